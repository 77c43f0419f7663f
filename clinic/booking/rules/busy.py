"""Busy time out of somebody's own iCalendar file (RFC 5545): when, never what. All of it is read or none.

What takes no time is passed over: cancelled and transparent events, and those of no length. Whole days and times without a
zone are days and times of the site.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from itertools import takewhile
from typing import Any

from icalendar import Calendar, Event

from clinic.booking.rules.recurrence import parse
from clinic.people.rules import zones

Span = tuple[datetime, datetime]
LARGEST = 4_000_000   # octets of a file
MOST = 20_000         # events of a file, and occurrences of all of them together
EARLIEST = 1970       # a recurrence that starts before would be walked through for nothing
LONGEST = timedelta(days=366)
# RFC 5545 section 3.3.10: parts that do not go with that FREQ, and BYSETPOS of a day, which can only find nothing
NOT_WITH = {
    "DAILY": ("BYYEARDAY", "BYWEEKNO", "BYSETPOS"), "WEEKLY": ("BYYEARDAY", "BYWEEKNO", "BYMONTHDAY"),
    "MONTHLY": ("BYYEARDAY", "BYWEEKNO"), "YEARLY": (),
}
# what the libraries let through of input they did not think of, found with garbled files
_FROM_LIBRARIES = (AttributeError, IndexError, KeyError, TypeError, OverflowError, OSError)
_MONTH = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


class Unreadable(ValueError):
    """A file that cannot be used. `faults` are sentences, each with the event and the property."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__(" ".join(faults))
        self.faults = faults


def busy_time(content: bytes, place: str, first: date, last: date) -> list[Span]:
    """The UTC spans that touch the days first..last of the zone `place`, in order, joined where they meet. Unreadable."""
    window = zones.day_bounds(first, place)[0], zones.day_bounds(last, place)[1]
    events = _events(content)
    moved: dict[tuple[str, datetime], int] = {}
    spans: list[Span] = []
    faults: list[str] = []
    for number, event in enumerate(events, 1):
        if "RECURRENCE-ID" in event:
            try:
                moved[str(event.get("UID", "")), _instant(event, "RECURRENCE-ID", place)] = number
            except (ValueError, *_FROM_LIBRARIES) as error:
                faults.append(f"Event {number}: {str(error)[:200]}.")
    for number, event in enumerate(events, 1):
        try:
            found = _spans(event, place, window)
        except ValueError as error:
            faults.append(f"Event {number}: {error}.")
            continue
        except _FROM_LIBRARIES:
            faults.append(f"Event {number}: its times or its RRULE cannot be made out.")
            continue
        if "RECURRENCE-ID" not in event:
            found = [span for span in found if (str(event.get("UID", "")), span[0]) not in moved]
        if _takes_time(event):
            spans += [span for span in found if span[0] < window[1] and span[1] > window[0]]
        if len(spans) > MOST:
            faults.append(f"Event {number}: more than {MOST} times by now.")
            break
    if faults:
        raise Unreadable(faults)
    return joined(spans)


def joined(spans: Iterable[Span]) -> list[Span]:
    """The same time in order, without overlaps."""
    out: list[Span] = []
    for begin, end in sorted(spans):
        if out and begin <= out[-1][1]:
            out[-1] = out[-1][0], max(end, out[-1][1])
        else:
            out.append((begin, end))
    return out


def _events(content: bytes) -> list[Any]:
    if len(content) > LARGEST:
        raise Unreadable([f"The file is larger than {LARGEST // 1_000_000} MB."])
    if b"\x00" in content:
        line = content[: content.index(b"\x00")].count(b"\n") + 1
        raise Unreadable([f"Line {line} holds a NUL byte: this is no calendar file, or a damaged one."])
    try:
        calendars = Calendar.from_ical(content.decode("utf-8-sig"), multiple=True)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise Unreadable([f"Line {line} is not UTF-8, as RFC 5545 section 3.1.4 wants it."]) from error
    except (ValueError, *_FROM_LIBRARIES) as error:
        raise Unreadable([f"This is not an iCalendar file: {str(error)[:160]}."]) from error
    if not calendars or any(each.name != "VCALENDAR" for each in calendars):
        raise Unreadable(["This is not an iCalendar file: it does not start with BEGIN:VCALENDAR."])
    events = [event for each in calendars for event in each.walk("VEVENT")]
    if len(events) > MOST:
        raise Unreadable([f"The file holds more than {MOST} events."])
    return events


def _takes_time(event: Event) -> bool:
    return str(event.get("STATUS", "")).upper() != "CANCELLED" and str(event.get("TRANSP", "")).upper() != "TRANSPARENT"


def _spans(event: Event, place: str, window: Span) -> list[Span]:
    """Every occurrence near the window. ValueError names the property."""
    for name, problem in event.errors:
        raise ValueError(f"{name} cannot be read: {str(problem)[:120]}")
    if "DTSTART" not in event:
        raise ValueError("DTSTART is missing")
    start = _value(event["DTSTART"], "DTSTART")
    begin, length = _instant(event, "DTSTART", place), _length(event, start, place)
    if length > LONGEST:
        raise ValueError("DTEND is more than a year after DTSTART")
    if not length:
        return []
    begins = {begin}
    if "RRULE" in event:
        begins |= set(_repeats(event, start, place, (window[0] - length, window[1])))
    begins |= set(_dates(event, "RDATE", place))
    begins -= set(_dates(event, "EXDATE", place))
    if isinstance(start, datetime):
        return [(each, each + length) for each in begins]
    days = round(length / timedelta(days=1))
    return [(each, zones.day_bounds(zones.day_in(each, place) + timedelta(days=days - 1), place)[1]) for each in begins]


def _value(prop: Any, name: str) -> date | datetime:
    if isinstance(prop, list):
        raise ValueError(f"{name} comes twice")
    value = getattr(prop, "dt", None)
    if not isinstance(value, date):
        raise ValueError(f"{name} is not a date or a time")
    if isinstance(value, datetime) and value.tzinfo is None and prop.params.get("TZID"):
        raise ValueError(f"{name} names the unknown zone {str(prop.params['TZID'])[:60]!r} (TZID)")
    return value


def _utc(value: date | datetime, place: str) -> datetime:
    if isinstance(value, datetime) and value.tzinfo is not None:
        return value.astimezone(UTC)
    if isinstance(value, datetime):
        return zones.lenient_instant(value.date(), value.time(), place)
    return zones.day_bounds(value, place)[0]


def _instant(event: Event, name: str, place: str) -> datetime:
    if name == "RECURRENCE-ID" and not isinstance(event[name], list) and "RANGE" in event[name].params:
        raise ValueError("RECURRENCE-ID with RANGE is not read; export the calendar with each change by itself")
    return _utc(_value(event[name], name), place)


def _length(event: Event, start: date | datetime, place: str) -> timedelta:
    if "DTEND" in event:
        end = _value(event["DTEND"], "DTEND")
        if isinstance(end, datetime) != isinstance(start, datetime):
            raise ValueError("DTSTART and DTEND must both be days or both be times")
        length = _utc(end, place) - _utc(start, place) if isinstance(start, datetime) else end - start
    elif "DURATION" in event:
        given = getattr(event["DURATION"], "dt", None)
        if not isinstance(given, timedelta):
            raise ValueError("DURATION cannot be read")
        length = given
        if not isinstance(start, datetime) and length % timedelta(days=1):
            raise ValueError("DURATION of a day must be whole days")   # RFC 5545 section 3.6.1
    else:   # RFC 5545 section 3.6.1: a day, or no time at all
        length = timedelta(days=not isinstance(start, datetime))
    if length < timedelta(0):
        raise ValueError("it ends before it starts (DTEND)")
    return length


def _repeats(event: Event, start: date | datetime, place: str, window: Span) -> list[datetime]:
    rule = event["RRULE"]
    if isinstance(rule, list):
        raise ValueError("RRULE comes twice")
    zone = place
    if isinstance(start, datetime) and start.tzinfo is not None:
        zone = getattr(start.tzinfo, "key", None) or str(start.tzinfo)
    wall = start.replace(tzinfo=None) if isinstance(start, datetime) else datetime.combine(start, time())
    if wall.year < EARLIEST:
        raise ValueError(f"DTSTART of a recurrence is before {EARLIEST}")
    raw: Any = rule.to_ical()
    text = raw.decode()
    _check(text)
    try:
        recurrence = parse(text, wall, zone)
    except ValueError as error:
        raise ValueError(f"RRULE: {str(error)[:200]}") from error
    end = window[1].astimezone(zones.zone(zone)).replace(tzinfo=None)
    begin = window[0].astimezone(zones.zone(zone)).replace(tzinfo=None)
    walls = [each for each in takewhile(lambda each: each <= end, recurrence) if each >= begin]
    return [zones.lenient_instant(each.date(), each.time(), zone) for each in walls]


def _check(text: str) -> None:
    """ValueError for a rule that would be searched for ever, or that RFC 5545 does not allow."""
    parts = dict(part.split("=", 1) for part in text.upper().split(";") if "=" in part)
    wrong = [part for part in NOT_WITH.get(parts.get("FREQ", ""), ()) if part in parts]
    if wrong:
        raise ValueError(f"RRULE: {wrong[0]} does not go with FREQ={parts['FREQ']}")
    if "BYMONTHDAY" in parts:
        months = [int(month) for month in parts.get("BYMONTH", "1").split(",")]
        days = [abs(int(day)) for day in parts["BYMONTHDAY"].split(",")]
        if not any(1 <= month <= 12 and day <= _MONTH[month - 1] for month in months for day in days):
            raise ValueError("RRULE: there is no such day in any of its months")


def _dates(event: Event, name: str, place: str) -> list[datetime]:
    props = event.get(name, [])
    out = []
    for prop in props if isinstance(props, list) else [props]:
        for each in prop.dts:
            if not isinstance(each.dt, date):
                raise ValueError(f"{name} with periods is not read")
            if isinstance(each.dt, datetime) and each.dt.tzinfo is None and prop.params.get("TZID"):
                raise ValueError(f"{name} names the unknown zone {str(prop.params['TZID'])[:60]!r} (TZID)")
            out.append(_utc(each.dt, place))
    return out
