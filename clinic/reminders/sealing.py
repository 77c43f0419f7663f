"""Sealing a notification for one browser (RFC 8291, aes128gcm) and saying who sends it (RFC 8292)."""

from __future__ import annotations

import base64
import time

import http_ece
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat, load_pem_private_key
from py_vapid import Vapid02

from clinic.reminders.rules.endpoint import POINT, SECRET, bytes_of, parts_of

VALID_SECONDS = 12 * 3600   # RFC 8292 section 2: 24 hours at most


def seal(
    content: bytes, p256dh: str, auth: str, *, key: ec.EllipticCurvePrivateKey | None = None, salt: bytes | None = None
) -> bytes:
    """The body that only this browser can read. `key` and `salt` are fresh for each; tests hand in published ones."""
    sealed: bytes = http_ece.encrypt(
        content, salt=salt, private_key=key or ec.generate_private_key(ec.SECP256R1()), dh=bytes_of(p256dh, POINT),
        auth_secret=bytes_of(auth, SECRET), version="aes128gcm",
    )
    return sealed


def is_point(p256dh: str) -> bool:
    """Whether it is a point of the curve that can be sealed for."""
    try:
        ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), bytes_of(p256dh, POINT))
    except ValueError:
        return False
    return True


def key_of(pem: str) -> ec.EllipticCurvePrivateKey:
    """Our own key. ValueError when the PEM holds no private key on P-256."""
    try:
        key = load_pem_private_key(pem.encode(), password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise ValueError("it is no private key in PEM") from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or not isinstance(key.curve, ec.SECP256R1):
        raise ValueError("it is not on the curve P-256")
    return key


def public_key(pem: str) -> str:
    """What a browser asks for when it subscribes, base64url; RFC 8292 section 3.2."""
    point = key_of(pem).public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    return base64.urlsafe_b64encode(point).rstrip(b"=").decode()


def voucher(pem: str, endpoint: str, contact: str) -> str:
    """The Authorization header for the push service behind `endpoint`; `contact` is a mailto: address."""
    parts = parts_of(endpoint)
    claims = {"aud": f"{parts.scheme}://{parts.netloc}", "exp": int(time.time()) + VALID_SECONDS, "sub": contact}
    return str(Vapid02(key_of(pem)).sign(claims)["Authorization"])
