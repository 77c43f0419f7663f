"""Sealing a notification against the example that its standard publishes.

Source: RFC 8291 (November 2017), section 5 "Push Message Encryption Example" and appendix A with its keys and salt, compared
with the tests of several independent implementations that cite it.
"""

from __future__ import annotations

from cryptography.hazmat.primitives.asymmetric import ec

from clinic.reminders.sealing import seal
from tests.reminders.push_service import open_sealed, point, raw, unpadded

PLAIN = b"When I grow up, I want to be a watermelon"
SALT, AUTH = "DGv6ra1nlYgDCS1FRnbzlw", "BTBZMqHH6r4Tts7J_aSIgg"
SENDER_PRIVATE = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
SENDER_PUBLIC = "BP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A8"
BROWSER_PRIVATE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
BROWSER_PUBLIC = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
BODY = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95b"
    "Qpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
)


def private(text: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(raw(text)), ec.SECP256R1())


def test_the_keys_of_the_example_belong_together():
    assert unpadded(point(private(SENDER_PRIVATE))) == SENDER_PUBLIC
    assert unpadded(point(private(BROWSER_PRIVATE))) == BROWSER_PUBLIC


def test_what_we_seal_is_the_published_body_byte_for_byte():
    assert unpadded(seal(PLAIN, BROWSER_PUBLIC, AUTH, key=private(SENDER_PRIVATE), salt=raw(SALT))) == BODY


def test_the_browser_of_our_tests_opens_the_published_body():
    assert open_sealed(raw(BODY), private(BROWSER_PRIVATE), raw(AUTH)) == PLAIN
