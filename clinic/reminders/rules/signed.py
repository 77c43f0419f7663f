"""Whether a report over HTTP comes from who shares our key, and is of now.

Source: the open Standard Webhooks specification (standardwebhooks.com), "Symmetric signatures": HMAC-SHA256 over
`id.timestamp.body`, in base64 behind `v1,`, several parted by spaces while a key is changed; the key is base64 too.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac

TOLERANCE = 300   # seconds a timestamp may be off, either way; the number is left to us, five minutes are common practice
KEY_BYTES = 24    # the least that the specification recommends
_PREFIX = "whsec_"


def key_of(secret: str) -> bytes:
    """The key's bytes. ValueError when it is not base64 or shorter than the specification asks for."""
    try:
        key = base64.b64decode(secret.removeprefix(_PREFIX), validate=True)
    except binascii.Error as error:
        raise ValueError("the key is not base64") from error
    if len(key) < KEY_BYTES:
        raise ValueError(f"the key has {len(key)} bytes and needs {KEY_BYTES}")
    return key


def signature(secret: str, report_id: str, timestamp: int, body: bytes) -> str:
    """The signature of one report."""
    told = f"{report_id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key_of(secret), told, hashlib.sha256).digest()).decode()


def genuine(secret: str, report_id: str, timestamp: str, body: bytes, signatures: str, now: float) -> bool:
    """Whether one of `signatures` holds and the timestamp (seconds since 1970) is of now. An old report sent again is not."""
    if not report_id or not (timestamp.isascii() and timestamp.isdigit() and len(timestamp) <= 12):
        return False
    expected = signature(secret, report_id, int(timestamp), body).encode()
    fits = [hmac.compare_digest(expected, given.encode()) for given in signatures.split(" ")]
    return any(fits) and abs(now - int(timestamp)) <= TOLERANCE
