"""Working hours' recurrences against RFC 5545 section 3.8.5.3, dateutil and recurring-ical-events, and the calendar files
that the icalendar and recurring-ical-events packages ship."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import icalendar
import pytest
import recurring_ical_events
from dateutil.rrule import rrulestr

from clinic.booking.rules.recurrence import BY_DAY_OR_LONGER, expand
from clinic.people.rules import zones

NEW_YORK = "America/New_York"
SEPTEMBER_2 = date(1997, 9, 2)


def local_days(rule, first=SEPTEMBER_2, last=date(1998, 12, 31)):
    spans = expand(rule, first, time(9), time(10), NEW_YORK, first, last)
    place = zones.zone(NEW_YORK)
    assert {start.astimezone(place).time() for start, _ in spans} <= {time(9)}
    return [start.astimezone(place).date() for start, _ in spans]


def days(year, month, *numbers):
    return [date(year, month, number) for number in numbers]


# RFC 5545 section 3.8.5.3: examples with their listed answers
LISTED = [
    ("FREQ=DAILY;COUNT=10", SEPTEMBER_2, days(1997, 9, *range(2, 12))),
    ("FREQ=DAILY;INTERVAL=10;COUNT=5", SEPTEMBER_2, [*days(1997, 9, 2, 12, 22), *days(1997, 10, 2, 12)]),
    ("FREQ=WEEKLY;COUNT=10", SEPTEMBER_2,
     [*days(1997, 9, 2, 9, 16, 23, 30), *days(1997, 10, 7, 14, 21, 28), date(1997, 11, 4)]),
    ("FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH", SEPTEMBER_2,
     [*days(1997, 9, 2, 4, 9, 11, 16, 18, 23, 25, 30), date(1997, 10, 2)]),
    ("FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR", date(1997, 9, 1),
     [*days(1997, 9, 1, 3, 5, 15, 17, 19, 29), *days(1997, 10, 1, 3, 13, 15, 17, 27, 29, 31),
      *days(1997, 11, 10, 12, 14, 24, 26, 28), *days(1997, 12, 8, 10, 12, 22)]),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", SEPTEMBER_2,
     [*days(1997, 9, 2, 4, 16, 18, 30), *days(1997, 10, 2, 14, 16)]),
    ("FREQ=MONTHLY;COUNT=10;BYDAY=1FR", date(1997, 9, 5),
     [date(1997, 9, 5), date(1997, 10, 3), date(1997, 11, 7), date(1997, 12, 5), date(1998, 1, 2), date(1998, 2, 6),
      date(1998, 3, 6), date(1998, 4, 3), date(1998, 5, 1), date(1998, 6, 5)]),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", date(1997, 8, 5), days(1997, 8, 5, 10, 19, 24)),
    ("FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", date(1997, 8, 5), days(1997, 8, 5, 17, 19, 31)),
]


@pytest.mark.parametrize(("rule", "first", "wanted"), LISTED, ids=[rule for rule, _, _ in LISTED])
def test_the_examples_of_rfc_5545(rule, first, wanted):
    assert local_days(rule, first) == wanted


def test_daily_until_december_keeps_nine_on_the_wall_clock():
    """113 instances; on 25 October 9:00 is 13:00 UTC, on the 26th 14:00 UTC."""
    rule, last = "FREQ=DAILY;UNTIL=19971224T000000Z", date(1998, 1, 31)
    spans = expand(rule, SEPTEMBER_2, time(9), time(10), NEW_YORK, SEPTEMBER_2, last)
    starts = [start for start, _ in spans]
    assert len(starts) == 113
    assert datetime(1997, 10, 25, 13, tzinfo=UTC) in starts
    assert datetime(1997, 10, 26, 14, tzinfo=UTC) in starts


@pytest.mark.parametrize("rule", [
    "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15", "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1", "FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
    "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12", "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
    "FREQ=YEARLY;BYDAY=20MO;COUNT=3",
    "FREQ=YEARLY;INTERVAL=3;COUNT=10;BYYEARDAY=1,100,200", "FREQ=YEARLY;BYWEEKNO=20;BYDAY=MO;COUNT=3",
    "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13;COUNT=5", "FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
    "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-2;COUNT=7",
    "FREQ=YEARLY;INTERVAL=4;BYMONTH=11;BYDAY=TU;BYMONTHDAY=2,3,4,5,6,7,8",
    "FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
])
def test_the_other_examples_agree_with_two_libraries(rule):
    """dateutil and recurring-ical-events read the same rule of RFC 5545 section 3.8.5.3."""
    last = date(2006, 12, 31)
    mine = local_days(rule, last=last)
    first = datetime.combine(SEPTEMBER_2, time(9))
    theirs = rrulestr(rule, dtstart=first).between(first, datetime.combine(last, time.max), inc=True)
    assert mine == [each.date() for each in theirs]
    text = "\r\n".join((
        "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//x//x//EN", "BEGIN:VEVENT", "UID:1", "DTSTAMP:19970101T000000Z",
        f"DTSTART;TZID={NEW_YORK}:19970902T090000", "DURATION:PT1H", f"RRULE:{rule}", "SUMMARY:x", "END:VEVENT",
        "END:VCALENDAR", "",
    ))
    events = recurring_ical_events.of(icalendar.Calendar.from_ical(text)).between(SEPTEMBER_2, last + timedelta(days=1))
    theirs = sorted(event["DTSTART"].dt.date() for event in events)
    # DTSTART counts there even where the rule does not match it; RFC 5545 calls that undefined
    assert [day for day in theirs if day in mine or day != SEPTEMBER_2] == mine


def timed_rule(event):
    """Rule, start and zone of a timed event that repeats by days or longer; None for others and for broken ones."""
    try:
        rule, start = event["RRULE"], event["DTSTART"].dt
        zone = start.tzinfo.key
        usable = rule["FREQ"][0] in BY_DAY_OR_LONGER and not {"BYHOUR", "BYMINUTE", "BYSECOND"} & set(rule)
    except (KeyError, AttributeError, TypeError, icalendar.error.BrokenCalendarProperty):
        return None
    return (rule.to_ical().decode(), start.replace(tzinfo=None), zone) if usable else None


def shipped():
    """The rules of timed events in the calendar files of the two packages, each with its start, end and zone."""
    found = {}
    for package in (icalendar, recurring_ical_events):
        for path in sorted(Path(package.__file__).parent.rglob("*.ics")):
            try:
                calendars = icalendar.Calendar.from_ical(path.read_bytes(), multiple=True)
            except ValueError:
                continue   # shipped to be refused
            for calendar in calendars:
                for event in calendar.walk("VEVENT"):
                    if key := timed_rule(event):
                        found[key] = path.name
    return found


@pytest.mark.filterwarnings("ignore::UserWarning")   # some files name their zones in a vendor's way, on purpose
def test_the_rules_of_the_shipped_files():
    """Every rule of days or longer, expanded over three years, agrees with dateutil on the wall clock."""
    rules = shipped()
    assert len(rules) >= 5
    for (rule, start, zone), name in rules.items():
        first, last = start.date(), start.date() + timedelta(days=3 * 365)
        until_minute = (start + timedelta(minutes=1)).time()
        try:
            rrulestr(rule.partition("UNTIL=")[0].rstrip(";"), dtstart=start)
        except ValueError:   # broken on purpose
            with pytest.raises(ValueError, match="rule"):
                expand(rule, first, start.time(), until_minute, zone, first, last)
            continue
        mine = expand(rule, first, start.time(), until_minute, zone, first, last)
        parts = dict(part.split("=") for part in rule.split(";"))
        until = parts.pop("UNTIL", "")
        limit = datetime.combine(last, time.max)
        if until:
            parsed = datetime.strptime(until.rstrip("Z")[:15], "%Y%m%dT%H%M%S" if "T" in until else "%Y%m%d")
            if until.endswith("Z"):
                parsed = parsed.replace(tzinfo=UTC).astimezone(zones.zone(zone)).replace(tzinfo=None)
            limit = min(limit, parsed if "T" in until else datetime.combine(parsed.date(), time.max))
        plain = rrulestr(";".join(f"{key}={value}" for key, value in parts.items()), dtstart=start)
        theirs = [zones.lenient_instant(each.date(), each.time(), zone) for each in plain.between(start, limit, inc=True)]
        assert [begin for begin, _ in mine] == theirs, (name, rule)
