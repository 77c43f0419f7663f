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


def offset_minutes(at: datetime, zone_name: str) -> int:
    """How far the clock of that zone is from UTC at an instant, in whole minutes."""
    offset = at.astimezone(zone(zone_name)).utcoffset()
    return int((offset or timedelta(0)).total_seconds() // 60)


def day_in(now: datetime, zone_name: str) -> date:
    """The calendar day that `now` falls on in that zone."""
    return now.astimezone(zone(zone_name)).date()


def day_bounds(day: date, zone_name: str) -> tuple[datetime, datetime]:
    """The UTC instants between which that local day lies: 23, 24 or 25 hours apart."""
    return lenient_instant(day, time(0), zone_name), lenient_instant(day + timedelta(days=1), time(0), zone_name)


def day_before(at: datetime, zone_name: str) -> datetime:
    """The moment a day before `at` by the clock of the zone: the same time of day, on the calendar day before.

    Over a clock change that is 23 or 25 hours, not 24. Where the clock skips that time it is the moment of the skip, where
    the clock shows it twice the first of the two.
    """
    local = at.astimezone(zone(zone_name))
    return clock_reaches(local.date() - timedelta(days=1), local.time(), zone_name)


def clock_reaches(day: date, at: time, zone_name: str) -> datetime:
    """The first UTC instant of `day` at which the clock shows `at` or, where it skips that, what comes after the skip."""
    place = zone(zone_name)
    wall = datetime.combine(day, at.replace(tzinfo=None, fold=0))
    first, second = (wall.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first > second:   # skipped: the change lies between the two readings
        return _clock_change(second, first, place) or first
    return first


def outside_quiet_hours(now: datetime, quiet_from: time, quiet_until: time, zone_name: str) -> datetime:
    """`now`, or the first moment after it at which the clock shows no quiet time. Equal bounds mean no quiet hours.

    A clock put back into the quiet hours makes it quiet again; a clock put forward over their end, or back before their
    begin, ends them at that moment.
    """
    place = zone(zone_name)
    if not _quiet(now, quiet_from, quiet_until, place):
        return now
    local = now.astimezone(place)
    ends_tomorrow = quiet_from > quiet_until and local.time().replace(fold=0) >= quiet_from
    wall = datetime.combine(local.date() + timedelta(days=ends_tomorrow), quiet_until)
    # read with either offset: of a time shown twice both count, a time skipped gives none that is not quiet
    ends = [wall.replace(tzinfo=place, fold=fold).astimezone(UTC) for fold in (0, 1)]
    change = _clock_change(now, max(ends), place)
    moments = sorted([*ends, *([change] if change else [])])
    fits = (each for each in moments if each > now and not _quiet(each, quiet_from, quiet_until, place))
    return next(fits, moments[-1])


def _quiet(moment: datetime, quiet_from: time, quiet_until: time, place: ZoneInfo) -> bool:
    at = moment.astimezone(place).time().replace(fold=0)
    if quiet_from <= quiet_until:
        return quiet_from <= at < quiet_until
    return at >= quiet_from or at < quiet_until


def _clock_change(begin: datetime, end: datetime, place: ZoneInfo) -> datetime | None:
    """The first instant after `begin` and up to `end` with another distance from UTC; None when it is the same at both."""
    offset = begin.astimezone(place).utcoffset()
    if end <= begin or end.astimezone(place).utcoffset() == offset:
        return None
    low, high = 0, -(-(end - begin) // timedelta(seconds=1))   # seconds after `begin`: no change yet, changed
    while high - low > 1:
        middle = (low + high) // 2
        changed = (begin + timedelta(seconds=middle)).astimezone(place).utcoffset() != offset
        low, high = (low, middle) if changed else (middle, high)
    return (begin + timedelta(seconds=high)).replace(microsecond=0)
