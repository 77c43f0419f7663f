"""Local times and instants. Instants are UTC; only UTC values are compared or stored."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


class LocalTimeProblem(ValueError):
    """A wall time that does not name exactly one instant. `choices` are instants (UTC) to offer instead."""

    def __init__(self, code: str, choices: list[datetime]) -> None:
        super().__init__(code)
        self.code = code          # nonexistent_time | ambiguous_time
        self.choices = choices


def zone(name: str) -> ZoneInfo:
    """The IANA zone of that name. ValueError when there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:   # OSError: a folder of zones, such as Europe
        raise ValueError(f"{name!r} is not an IANA time zone") from error


def instant(day: date, at: time, zone_name: str) -> datetime:
    """The UTC instant of a wall time; LocalTimeProblem when the clock skips it or shows it twice."""
    place = zone(zone_name)
    wall = datetime.combine(day, at.replace(tzinfo=None, fold=0))
    first = wall.replace(tzinfo=place).astimezone(UTC)
    second = wall.replace(tzinfo=place, fold=1).astimezone(UTC)
    if first == second:
        return first
    if first.astimezone(place).replace(tzinfo=None) != wall:
        # in the gap: offer the same distance before and after the jump
        gap = first - second
        return _refuse("nonexistent_time", [first - gap, first] if gap > timedelta(0) else [first, second])
    return _refuse("ambiguous_time", sorted([first, second]))


def _refuse(code: str, choices: list[datetime]) -> datetime:
    raise LocalTimeProblem(code, choices)


def lenient_instant(day: date, at: time, zone_name: str) -> datetime:
    """The UTC instant of a wall time; inside a gap the time after it, in an overlap the first of the two.

    For spans that must exist whatever the clock does (working hours, quiet hours), not for what a person typed.
    """
    return datetime.combine(day, at.replace(tzinfo=None, fold=0)).replace(tzinfo=zone(zone_name)).astimezone(UTC)


def day_in(now: datetime, zone_name: str) -> date:
    """The calendar day that `now` falls on in that zone."""
    return now.astimezone(zone(zone_name)).date()


def day_bounds(day: date, zone_name: str) -> tuple[datetime, datetime]:
    """The UTC instants between which that local day lies: 23, 24 or 25 hours apart."""
    return lenient_instant(day, time(0), zone_name), lenient_instant(day + timedelta(days=1), time(0), zone_name)


def outside_quiet_hours(now: datetime, quiet_from: time, quiet_until: time, zone_name: str) -> datetime:
    """`now`, or the end of the quiet hours that `now` lies in. Equal bounds mean no quiet hours."""
    if quiet_from == quiet_until:
        return now
    local = now.astimezone(zone(zone_name))
    at = local.time().replace(tzinfo=None, fold=0)
    overnight = quiet_from > quiet_until
    quiet = (at >= quiet_from or at < quiet_until) if overnight else quiet_from <= at < quiet_until
    if not quiet:
        return now
    ends_tomorrow = overnight and at >= quiet_from
    return lenient_instant(local.date() + timedelta(days=ends_tomorrow), quiet_until, zone_name)
