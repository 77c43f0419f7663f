"""Wall times and instants across clock changes.

The London and New York change days of 2026 are from the IANA time zone database, read through zoneinfo; that 01:30 in
London on 29 March 2026 does not exist and on 25 October 2026 exists twice is a fact of that database.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.people.rules import zones

LONDON = "Europe/London"


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


def test_an_ordinary_wall_time_is_one_instant():
    assert zones.instant(date(2026, 3, 28), time(1, 30), LONDON) == utc(2026, 3, 28, 1, 30)
    assert zones.instant(date(2026, 3, 30), time(9), LONDON) == utc(2026, 3, 30, 8)


def test_a_time_the_clock_skips_is_refused_with_the_times_around_it():
    with pytest.raises(zones.LocalTimeProblem) as refused:
        zones.instant(date(2026, 3, 29), time(1, 30), LONDON)
    assert refused.value.code == "nonexistent_time"
    assert refused.value.choices == [utc(2026, 3, 29, 0, 30), utc(2026, 3, 29, 1, 30)]   # 00:30 and 02:30 local


def test_a_time_the_clock_shows_twice_is_refused_with_both():
    with pytest.raises(zones.LocalTimeProblem) as refused:
        zones.instant(date(2026, 10, 25), time(1, 30), LONDON)
    assert refused.value.code == "ambiguous_time"
    assert refused.value.choices == [utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 1, 30)]


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 29), 23), (date(2026, 6, 1), 24), (date(2026, 10, 25), 25)])
def test_a_day_has_23_24_or_25_hours(day, hours):
    start, end = zones.day_bounds(day, LONDON)
    assert end - start == timedelta(hours=hours)


def test_an_unknown_zone_is_named():
    with pytest.raises(ValueError, match="Mars/Olympus"):
        zones.zone("Mars/Olympus")


@pytest.mark.parametrize(
    ("now", "moved_to"),
    [
        (utc(2026, 1, 10, 20, 59), utc(2026, 1, 10, 20, 59)),     # just before the quiet hours
        (utc(2026, 1, 10, 21, 0), utc(2026, 1, 11, 8, 0)),
        (utc(2026, 1, 11, 7, 59), utc(2026, 1, 11, 8, 0)),
        (utc(2026, 1, 11, 8, 0), utc(2026, 1, 11, 8, 0)),
        (utc(2026, 3, 28, 23, 0), utc(2026, 3, 29, 7, 0)),        # the night that has an hour less
        (utc(2026, 10, 24, 22, 0), utc(2026, 10, 25, 8, 0)),      # the night that has an hour more
    ],
)
def test_quiet_hours_over_night(now, moved_to):
    assert zones.outside_quiet_hours(now, time(21), time(8), LONDON) == moved_to


def test_equal_bounds_mean_no_quiet_hours():
    now = utc(2026, 1, 10, 3)
    assert zones.outside_quiet_hours(now, time(8), time(8), LONDON) == now


@given(st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 30)), st.times(), st.times())
def test_what_is_moved_out_of_quiet_hours_is_never_earlier_nor_quiet(naive, start, end):
    now = naive.replace(tzinfo=UTC)
    moved = zones.outside_quiet_hours(now, start.replace(fold=0), end.replace(fold=0), LONDON)
    assert moved >= now
    assert moved - now <= timedelta(hours=25)
