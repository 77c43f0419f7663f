"""How close together messages may leave by one channel."""

from __future__ import annotations

from datetime import datetime, timedelta

MINUTE = timedelta(minutes=1)


def moments(
    free_from: datetime | None, *, now: datetime, wanted: int, per_minute: int, within: timedelta
) -> tuple[list[datetime], datetime]:
    """When up to `wanted` messages may leave, those that may within `within` of now; and from when on the next one may.

    `free_from` is that moment as the last call left it. They are spread evenly, so that no sixty seconds hold more than
    `per_minute`; a quiet hour saves nothing up. ValueError for a pace or a number below one.
    """
    if per_minute < 1 or wanted < 1:
        raise ValueError(f"{wanted} messages at {per_minute} a minute: both are 1 at least")
    first = max(now, free_from) if free_from else now
    gap = MINUTE / per_minute
    if gap * per_minute < MINUTE:   # rounded down to a microsecond
        gap += timedelta(microseconds=1)
    if first > now + within:
        return [], first
    count = min(wanted, 1 + (now + within - first) // gap)
    return [first + gap * number for number in range(count)], first + gap * count
