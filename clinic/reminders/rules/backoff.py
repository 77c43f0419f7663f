"""How long to wait before trying again."""

from __future__ import annotations

from datetime import timedelta

FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=1)


def wait_after(attempt: int, fraction: float) -> timedelta:
    """The wait after the `attempt`-th failed attempt (from 1): doubling, half of it certain and half jitter.

    `fraction` in 0..1 picks the jitter, so that many messages which failed together do not come back together.
    ValueError outside those bounds. Exponential back-off with jitter is common practice; the bounds are ours.
    """
    if attempt < 1:
        raise ValueError(f"attempt starts at 1, not {attempt}")
    if not 0 <= fraction <= 1:
        raise ValueError(f"fraction lies in 0..1, not {fraction}")
    # past 2**6 minutes the ceiling holds anyway; without the bound a large attempt would overflow
    whole = min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(attempt - 1, 6))
    return whole / 2 + whole / 2 * fraction
