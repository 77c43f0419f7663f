"""Working hours against the examples of the standard and another library.

* RFC 5545 (Desruisseaux B 2009, Internet Calendaring and Scheduling Core Object Specification), section 3.8.5.3: the
  numbered examples all start at DTSTART;TZID=America/New_York:19970902T090000 unless said, and list what they expand to.
* recurring-ical-events: a second implementation, over the clock changes of 2026 in two zones.
* Cormen TH, Leiserson CE, Rivest RL, Stein C, Introduction to Algorithms, activity selection: eleven half-open
  activities, at most four of which fit in one room; that six overlap at once was counted by hand.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import icalendar
import pytest
import recurring_ical_events

from clinic.booking.rules import grid as g
from clinic.booking.rules.recurrence import expand

NEW_YORK = "America/New_York"


def expanded(rule, first=date(1997, 9, 2), last=date(1998, 12, 31)):
    return [start for start, _ in expand(rule, first, time(9), time(10), NEW_YORK, first, last)]


def days(spec):
    """'9: 2 9 16' -> days of September 1997."""
    found = []
    for part in spec.split(";"):
        month, _, numbers = part.partition(":")
        found += [date(1997, int(month), int(number)) for number in numbers.split()]
    return found


def test_daily_until_the_end_of_the_year_is_113_instances_across_the_clock_change():
    starts = expanded("FREQ=DAILY;UNTIL=19971224T000000Z")
    assert len(starts) == 113
    assert [start.date() for start in starts] == [date(1997, 9, 2) + timedelta(days=n) for n in range(113)]
    by_day = {start.date(): start for start in starts}
    assert by_day[date(1997, 10, 25)] == datetime(1997, 10, 25, 13, 0, tzinfo=UTC)
    assert by_day[date(1997, 10, 26)] == datetime(1997, 10, 26, 14, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("rule", "first", "expected"),
    [
        (
            "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR", date(1997, 9, 1),
            "9: 1 3 5 15 17 19 29; 10: 1 3 13 15 17 27 29 31; 11: 10 12 14 24 26 28; 12: 8 10 12 22",
        ),
        ("FREQ=WEEKLY;COUNT=10", date(1997, 9, 2), "9: 2 9 16 23 30; 10: 7 14 21 28; 11: 4"),
        ("FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH", date(1997, 9, 2), "9: 2 4 16 18 30; 10: 2 14 16"),
    ],
)
def test_weekly_examples(rule, first, expected):
    starts = expanded(rule, first)
    assert [start.date() for start in starts] == days(expected)
    summer = [start for start in starts if start.date() < date(1997, 10, 26)]
    winter = [start for start in starts if start.date() >= date(1997, 10, 26)]
    assert {start.hour for start in summer} == {13}
    assert {start.hour for start in winter} <= {14}


@pytest.mark.parametrize("zone", ["Europe/London", "America/New_York"])
@pytest.mark.parametrize(
    "rule",
    ["FREQ=DAILY", "FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR", "FREQ=WEEKLY;INTERVAL=2;BYDAY=SU,MO", "FREQ=MONTHLY;BYDAY=-1SU"],
)
def test_the_hours_of_2026_are_those_of_another_library(zone, rule):
    event = icalendar.Event.from_ical(
        f"BEGIN:VEVENT\r\nUID:hours\r\nDTSTAMP:20260101T000000Z\r\nDTSTART;TZID={zone}:20260104T090000\r\n"
        f"DTEND;TZID={zone}:20260104T170000\r\nRRULE:{rule}\r\nEND:VEVENT\r\n"
    )
    calendar = icalendar.Calendar()
    calendar.add_component(event)
    first, last = date(2026, 1, 5), date(2026, 12, 31)
    theirs = [
        (found["DTSTART"].dt.astimezone(UTC), found["DTEND"].dt.astimezone(UTC))
        for found in recurring_ical_events.of(calendar).between(first, last + timedelta(days=1))
    ]
    ours = expand(rule, date(2026, 1, 4), time(9), time(17), zone, first, last)
    assert ours == sorted(theirs)
    assert len(ours) >= 12


ACTIVITIES = [(1, 4), (3, 5), (0, 6), (5, 7), (3, 9), (5, 9), (6, 10), (8, 11), (8, 12), (2, 14), (12, 16)]
DAY = datetime(2026, 3, 2, tzinfo=UTC)
SPANS = [(DAY + timedelta(hours=a), DAY + timedelta(hours=b)) for a, b in ACTIVITIES]


def test_the_grid_fits_four_of_the_eleven_activities_into_one_room():
    grid = g.days_grid(DAY.date(), DAY.date(), "UTC")
    free, fitted = grid.full, []
    for span, activity in sorted(zip(SPANS, ACTIVITIES, strict=True), key=lambda pair: pair[0][1]):
        mask = grid.touched([span])
        if mask & free == mask:
            free, fitted = free & ~mask, [*fitted, activity]
    assert fitted == [(1, 4), (5, 7), (8, 11), (12, 16)]


def test_six_of_them_overlap_at_once():
    grid = g.days_grid(DAY.date(), DAY.date(), "UTC")
    masks = [grid.touched([span]) for span in SPANS]
    assert max(sum(mask >> tick & 1 for mask in masks) for tick in range(grid.length)) == 6


def test_back_to_back_activities_do_not_clash():
    ten, eleven, noon = (DAY + timedelta(hours=hour) for hour in (10, 11, 12))
    assert not g.overlaps((ten, eleven), (eleven, noon))
    assert g.overlaps((ten, eleven + timedelta(minutes=5)), (eleven, noon))
