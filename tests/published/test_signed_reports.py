"""Signed reports against the published example of the open Standard Webhooks specification.

Source: standard-webhooks, the reference libraries' own test "sign function works" (the key, the id, the moment, the body
and what comes out), found in several independent implementations.
"""

from __future__ import annotations

import pytest

from clinic.reminders.rules.signed import TOLERANCE, genuine, key_of, signature

KEY, REPORT = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek"
MOMENT, BODY = 1614265330, b'{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_example_comes_out_as_published():
    assert signature(KEY, REPORT, MOMENT, BODY) == SIGNATURE
    assert signature(KEY.removeprefix("whsec_"), REPORT, MOMENT, BODY) == SIGNATURE


@pytest.mark.parametrize(
    ("change", "holds"),
    [
        ({}, True),
        ({"signatures": f"v1,AAAA v1a,BBBB {SIGNATURE}"}, True),   # while a key is changed both are sent
        ({"now": MOMENT + TOLERANCE}, True),
        ({"now": MOMENT - TOLERANCE}, True),
        ({"now": MOMENT + TOLERANCE + 1}, False),
        ({"now": MOMENT - TOLERANCE - 1}, False),
        ({"timestamp": str(MOMENT + 1)}, False),
        ({"timestamp": ""}, False),
        ({"timestamp": "²"}, False),
        ({"timestamp": "9" * 400}, False),
        ({"report_id": "msg_another"}, False),
        ({"report_id": ""}, False),
        ({"body": b'{"test": 2432232315}'}, False),
        ({"signatures": ""}, False),
        ({"signatures": SIGNATURE.removeprefix("v1,")}, False),
        ({"signatures": "v1,ü"}, False),
        ({"secret": "whsec_" + "A" * 32}, False),
    ],
    ids=str,
)
def test_one_change_anywhere_and_it_does_not_hold(change, holds):
    told = {"secret": KEY, "report_id": REPORT, "timestamp": str(MOMENT), "body": BODY, "signatures": SIGNATURE}
    assert genuine(**{"now": MOMENT} | told | change) is holds


@pytest.mark.parametrize("key", ["", "whsec_", "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLa==", "not base64!"])
def test_a_key_that_is_too_short_or_none_is_refused(key):
    with pytest.raises(ValueError):
        key_of(key)
