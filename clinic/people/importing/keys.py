"""Keys for what has no number of its own, so that the same row is the same thing when it comes again."""

from __future__ import annotations

import hashlib
from uuid import UUID, uuid5

LOGS = UUID("4b1de3c5-52c0-5d3e-8f0e-0c6a3a8d6f11")   # name space of ids made from a sheet


def derived_ref(*parts: object) -> str:
    """A number for a row without one: 38 characters, the same for the same parts."""
    text = "\x1f".join(str(part) for part in parts)
    return f"sheet-{hashlib.sha256(text.encode()).hexdigest()[:32]}"


def derived_id(*parts: object) -> UUID:
    """An id for a row (RFC 9562, version 5), the same for the same parts."""
    return uuid5(LOGS, "\x1f".join(str(part) for part in parts))
