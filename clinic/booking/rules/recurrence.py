"""Working hours as an RFC 5545 recurrence rule on the wall clock of a site.

The rule runs on naive wall times and only then meets the zone, so that a 09:00 start stays at 09:00 across a clock
change (RFC 5545 section 3.3.10: recurrences are in local time). Instants are UTC from there on.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

from dateutil.rrule import rrule, rrulestr

from clinic.people.rules import zones

Span = tuple[datetime, datetime]
BY_DAY_OR_LONGER = {"DAILY", "WEEKLY", "MONTHLY", "YEARLY"}


def expand(
    rule: str, first_day: date, starts: time, ends: time, zone: str, day_from: date, day_to: date
) -> list[Span]:
    """What `_expanded` says, kept: the hours of the same days are asked for all day, and a rule is walked from its start."""
    return list(_expanded(rule, first_day, starts, ends, zone, day_from, day_to))


@lru_cache(maxsize=4096)
def _expanded(
    rule: str, first_day: date, starts: time, ends: time, zone: str, day_from: date, day_to: date
) -> tuple[Span, ...]:
    """The UTC spans of the occurrences whose local day lies in `day_from`..`day_to` (both included), in order.

    `ends` not after `starts` means the next day. A wall time the clock skips becomes the time after the gap, one it
    shows twice the first of the two; a span that a gap swallows whole is left out. ValueError says what is wrong
    with the rule or the zone.
    """
    recurrence = parse(rule, datetime.combine(first_day, starts), zone)
    window = datetime.combine(day_from, time.min), datetime.combine(day_to, time.max)
    overnight = timedelta(days=ends <= starts)
    spans = []
    for wall in recurrence.between(*window, inc=True):
        begin = zones.lenient_instant(wall.date(), starts, zone)
        end = zones.lenient_instant(wall.date() + overnight, ends, zone)
        if begin < end:
            spans.append((begin, end))
    return tuple(spans)


def parse(rule: str, first: datetime, zone: str) -> rrule:
    """The rule as a recurrence of naive wall times from `first`. ValueError names the part that cannot be used."""
    parts = _parts(rule)
    if parts.get("FREQ") not in BY_DAY_OR_LONGER:
        raise ValueError(f"rule {rule!r}: FREQ must be one of {', '.join(sorted(BY_DAY_OR_LONGER))}")
    if "COUNT" in parts and "UNTIL" in parts:
        raise ValueError(f"rule {rule!r}: COUNT and UNTIL exclude one another")
    for part in ("BYHOUR", "BYMINUTE", "BYSECOND", "DTSTART"):
        if part in parts:
            raise ValueError(f"rule {rule!r}: {part} is not used here; the times are given beside the rule")
    if not parts.get("INTERVAL", "1").isdecimal() or int(parts.get("INTERVAL", "1")) < 1:
        raise ValueError(f"rule {rule!r}: INTERVAL must be a whole number from 1 on")
    if "UNTIL" in parts:
        parts["UNTIL"] = _local_until(rule, parts["UNTIL"], zone)
    text = ";".join(f"{name}={value}" for name, value in parts.items())
    try:
        parsed = rrulestr(text, dtstart=first)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"rule {rule!r} cannot be read: {error}") from error
    if not isinstance(parsed, rrule):
        raise ValueError(f"rule {rule!r}: one rule only")
    return parsed


def _parts(rule: str) -> dict[str, str]:
    parts: dict[str, str] = {}
    for piece in rule.strip().upper().split(";"):
        name, sign, value = piece.partition("=")
        if not sign or not value or name in parts or "\n" in piece:
            raise ValueError(f"rule {rule!r}: {piece!r} is not NAME=VALUE, or comes twice")
        parts[name] = value
    return parts


def _local_until(rule: str, until: str, zone: str) -> str:
    """UNTIL as a wall time. RFC 5545 wants it in UTC beside a zoned start; a bare date means all of that day."""
    try:
        if until.endswith("Z"):
            moment = datetime.strptime(until, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
            return f"{moment.astimezone(zones.zone(zone)):%Y%m%dT%H%M%S}"
        if "T" not in until:
            return f"{datetime.strptime(until, '%Y%m%d').replace(tzinfo=UTC):%Y%m%d}T235959"
        return f"{datetime.strptime(until, '%Y%m%dT%H%M%S').replace(tzinfo=UTC):%Y%m%dT%H%M%S}"
    except ValueError as error:
        raise ValueError(f"rule {rule!r}: UNTIL={until} is not a date or an instant") from error
