"""Quiet hours and "a day before" over every clock change of a year, against a clock that is walked minute by minute.

Four zones: London, New York (an hour at night), Lord Howe (half an hour), Santiago (at midnight, so that one day has no
first hour and one evening comes twice). When they change is from the IANA time zone database, read through zoneinfo. The end
of a kick-off is held against the same clock in `tests/prescribing/test_kick_off_clock.py`.
"""

from __future__ import annotations

from datetime import time, timedelta

import pytest

from clinic.booking.actions.import_visit import import_visit
from clinic.booking.actions.plan_visit_reminders import plan_visit_reminders
from clinic.people.models import Site
from clinic.people.rules import zones
from clinic.reminders.models import Message
from tests.reminders import minute_clock as clock

ZONES = ["Europe/London", "America/New_York", "Australia/Lord_Howe", "America/Santiago"]
YEAR = 2026
CHANGES = [(zone, at) for zone in ZONES for at in clock.changes(YEAR, zone)]
named = pytest.mark.parametrize(("zone", "change"), CHANGES, ids=[f"{zone} {at:%d %b}" for zone, at in CHANGES])
QUIET = [
    (time(21), time(8)), (time(22, 30), time(7, 15)), (time(23, 30), time(0, 15)), (time(0), time(6)),
    (time(1, 15), time(1, 45)), (time(1, 30), time(2, 30)), (time(2), time(3)), (time(12), time(14)), (time(23), time(23)),
    (time(23, 10), time(23, 50)), (time(20), time(1, 40)), (time(0, 30), time(23, 30)),
]


def test_each_zone_changes_its_clock_twice_and_by_what_it_is_known_for():
    steps = {}
    for zone, at in CHANGES:
        shown = [each.at for each in clock.minutes(at - clock.MINUTE, at, zone)]
        minutes = [each.hour * 60 + each.minute for each in shown]
        steps.setdefault(zone, []).append((minutes[1] - minutes[0] - 1) % 1440)
    assert {zone: sorted(found) for zone, found in steps.items()} == {
        "Europe/London": [60, 1380], "America/New_York": [60, 1380], "Australia/Lord_Howe": [30, 1410],
        "America/Santiago": [60, 1380],
    }


@named
def test_quiet_hours_end_when_the_wall_says_so(zone, change):
    walked = clock.minutes(change - timedelta(hours=30), change + timedelta(hours=56), zone)
    asked = [index for index, each in enumerate(walked) if abs(each.utc - change) < timedelta(hours=3) or index % 13 == 0]
    for quiet_from, quiet_until in QUIET:
        ends = clock.quiet_ends(walked, quiet_from, quiet_until)
        for index in asked:
            if ends[index] is None:
                continue
            now = walked[index].utc
            said = zones.outside_quiet_hours(now, quiet_from, quiet_until, zone)
            assert said == ends[index], f"{zone} {quiet_from}-{quiet_until} at {now}"


@named
def test_a_day_before_is_the_same_time_on_the_wall_of_the_day_before(zone, change):
    walked = clock.minutes(change - timedelta(hours=60), change + timedelta(hours=60), zone)
    for each in walked[37 * 60::7]:
        assert zones.day_before(each.utc, zone) == clock.first_shown(walked, each.day - timedelta(days=1), each.at), each


@named
@pytest.mark.parametrize("hours", [1, 8, 20])
def test_a_visit_is_reminded_of_in_that_minute_and_not_before(zone, change, hours, cast):
    Site.objects.filter(pk=cast.site.pk).update(zone=zone)
    walked = clock.minutes(change - timedelta(hours=60), change + timedelta(hours=60), zone)
    starts = change + timedelta(hours=hours)
    shown = next(each for each in walked if each.utc == starts)
    due = clock.first_shown(walked, shown.day - timedelta(days=1), shown.at)
    import_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=starts,
        now=change - timedelta(days=9),
    )
    assert [plan_visit_reminders(by=cast.desk.user, now=due + clock.MINUTE * step) for step in (-1, 0, 1)] == [0, 1, 0]
    assert Message.objects.get().due == due
