"""When a kick-off ends and when the client hears of it, over clock changes, against a clock walked minute by minute."""

from __future__ import annotations

from datetime import time, timedelta

import pytest

from clinic.reminders.models import Message
from programs.prescribing.actions.prescribe_program import prescribe_program
from tests.reminders import minute_clock as clock
from tests.reminders.test_clock_changes import CHANGES


@pytest.mark.parametrize("days_ahead", range(5, 9))   # the change falls on each of the days around the end
@pytest.mark.parametrize(("zone", "change"), CHANGES, ids=[f"{zone} {at:%d %b}" for zone, at in CHANGES])
def test_the_end_of_a_kick_off_is_told_at_six_on_the_wall_of_the_evening_before(
    zone, change, days_ahead, cast, library, by_date
):
    """The taper begins as many midnights after the first day as the kick-off has days; told from 18:00 before, to noon."""
    cast.ada_hip.client.zone = zone
    cast.ada_hip.client.save()
    begin = change - timedelta(days=days_ahead)
    walked = clock.minutes(begin, begin + timedelta(days=10), zone)
    prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=by_date, title="Hip", starts=walked[0].day, now=begin,
        screening_reason="Asked on paper at the first visit",
    )
    taper = Message.objects.filter(kind="phase_change").order_by("due")[0]
    first_day = clock.nth_day(walked, by_date.phases[0].days)
    assert taper.due == clock.first_shown(walked, first_day - timedelta(days=1), time(18))
    assert taper.not_after == clock.first_shown(walked, first_day, time(12))
