"""Times of day as people write them, and the instant a wall time names at a site."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone

from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.faults import Fault
from clinic.people.rules import zones

_CLOCK = re.compile(
    r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>\d{2}))?(?::(?P<second>\d{2})(?:\.\d+)?)?\s*(?P<half>[ap]\.?m\.?)?"
    r"\s*(?P<suffix>z|utc|[+-]\d{2}:?\d{2}|[a-z]{3,5})?",
    re.IGNORECASE,
)
_PLAIN = re.compile(r"(?P<hour>\d{2})(?P<minute>\d{2})")
_TAIL = re.compile(r"(?:T|[\s,]+(?:at )?)(?=\d{1,2}(?:[:.h]\d{2}|\s*[ap]\.?m))", re.IGNORECASE)
_MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True, slots=True)
class WallTime:
    """A time of day; `suffix` is what stood behind it: an offset (`+01:00`, `Z`) or the zone's own letters (`BST`)."""

    at: time
    suffix: str = ""


def split_moment(cell: Cell) -> tuple[Cell, Cell]:
    """(date part, time part) of a cell that may hold both; the time part is None when it holds a date only."""
    if isinstance(cell, datetime):   # a cell with a date only comes as its midnight
        return cell.date(), cell.time() if cell.time() != time(0) else None
    if isinstance(cell, float) and cell > 1:
        return int(cell), cell % 1 or None
    text = as_text(cell)
    found = _TAIL.search(text)
    return (text[: found.start()], text[found.end() :]) if found else (cell, None)


def read_time(cell: Cell) -> WallTime:
    """The time of day a cell names. Fault not_a_time."""
    if isinstance(cell, datetime):
        return WallTime(cell.time().replace(second=0, microsecond=0))
    if isinstance(cell, time):
        return WallTime(cell.replace(second=0, microsecond=0))
    if isinstance(cell, float) and 0 <= cell < 1:   # a share of the day, as spreadsheets keep times
        minutes = round(cell * _MINUTES_A_DAY) % _MINUTES_A_DAY
        return WallTime(time(minutes // 60, minutes % 60))
    text = as_text(cell)
    found = _PLAIN.fullmatch(text) or _CLOCK.fullmatch(text)
    parts = found.groupdict() if found else {}
    hour, half = int(parts.get("hour") or 99), (parts.get("half") or "").replace(".", "").lower()
    if found and (parts["minute"] or half):
        if half:
            hour = hour % 12 + (12 if half == "pm" else 0) if 1 <= hour <= 12 else 99
        if hour <= 23 and int(parts["minute"] or 0) <= 59:
            return WallTime(time(hour, int(parts["minute"] or 0)), (parts.get("suffix") or "").upper())
    raise Fault("not_a_time", "This is not a time of day.", "Write it like 09:30 or 14:00.")


def instant(day: date, wall: WallTime, zone_name: str) -> datetime:
    """The UTC instant. Fault nonexistent_time or ambiguous_time names both choices; unknown_offset."""
    if offset := _offset(wall.suffix):
        return datetime.combine(day, wall.at, tzinfo=offset).astimezone(UTC)
    try:
        found = zones.instant(day, wall.at, zone_name)
        choices = [found]
    except zones.LocalTimeProblem as problem:
        if not wall.suffix or problem.code == "nonexistent_time":
            raise _clock_change(problem, zone_name) from None
        choices = problem.choices
    for choice in choices:
        if not wall.suffix or choice.astimezone(zones.zone(zone_name)).tzname() == wall.suffix:
            return choice
    raise Fault(
        "unknown_offset", f"{wall.suffix} is not what clocks in {zone_name} show on that day.",
        "Leave it out, or write the offset like +01:00.",
    )


def _offset(suffix: str) -> timezone | None:
    if suffix in {"Z", "UTC"}:
        return UTC
    if suffix[:1] in {"+", "-"}:
        digits = suffix[1:].replace(":", "")
        minutes = int(digits[:2]) * 60 + int(digits[2:])
        if minutes < _MINUTES_A_DAY:
            return timezone(timedelta(minutes=-minutes if suffix[0] == "-" else minutes))
    return None


def _clock_change(problem: zones.LocalTimeProblem, zone_name: str) -> Fault:
    local = [choice.astimezone(zones.zone(zone_name)) for choice in problem.choices]
    if problem.code == "nonexistent_time":
        return Fault(
            "nonexistent_time", "The clocks skip this time on that day.",
            f"Write {local[0]:%H:%M} or {local[1]:%H:%M}.",
        )
    shown = [choice.isoformat()[11:16] + choice.isoformat()[-6:] for choice in local]
    return Fault(
        "ambiguous_time", "The clocks show this time twice on that day.", f"Write {shown[0]} or {shown[1]}.",
    )
