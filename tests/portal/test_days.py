"""Days, weeks and phases as a client reads them."""

from datetime import date, timedelta
from uuid import UUID

import pytest

from programs.following.rules.adherence import Bands
from programs.library.rules.dose import Hold, Span
from programs.portal.rules import days
from programs.portal.vocab import Stand
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan, day_plan

START = date(2026, 2, 28)
ITEM = ItemPlan(UUID(int=1), "lean", 1, Hold(Span(2, 2), Span(30, 30)), setup_seconds=1)   # 61 seconds
PLAN = Plan(
    START,
    (
        PhasePlan("kick_off", 7, Span(1, 2)),
        PhasePlan("taper", 14, Span(1, 1), days_per_week=2, advance="by_decision"),
        PhasePlan("maintenance", None, Span(1, 1), days_per_week=1),
    ),
    (ITEM,),
)


@pytest.mark.parametrize(
    ("open_now", "paused", "today", "stand"),
    [
        (True, False, date(2026, 3, 2), Stand.ASKED),
        (True, True, date(2026, 3, 2), Stand.PAUSED),
        (False, False, date(2026, 3, 2), Stand.ENDED),
        (False, True, date(2026, 3, 2), Stand.ENDED),
        (True, False, date(2026, 2, 27), Stand.NOT_STARTED),
        (True, False, date(2026, 3, 8), Stand.REST),
    ],
)
def test_where_a_client_stands(open_now, paused, today, stand):
    asked = day_plan(PLAN, today) if today >= START else None
    assert days.stand_of(open_now=open_now, starts=START, paused=paused, asked=asked, today=today) == stand


def test_minutes_are_rounded_up():
    assert [days.minutes(seconds) for seconds in (0, 1, 60, 61)] == [0, 1, 1, 2]


def test_the_next_day_with_a_session():
    rest = date(2026, 3, 8)
    day = days.next_asked(PLAN, rest)
    assert day > rest
    assert day_plan(PLAN, day).sessions is not None
    assert all(day_plan(PLAN, rest + timedelta(days=n)).sessions is None for n in range(1, (day - rest).days))
    assert days.next_asked(PLAN, date(2026, 2, 20)) == START


def test_phases_have_dates_until_a_decision_is_open():
    kick_off, taper, maintenance = days.phase_lines(PLAN, date(2026, 3, 2))
    assert (kick_off.first, kick_off.last, kick_off.waits, kick_off.now) == (START, date(2026, 3, 6), "date", True)
    assert kick_off.minutes == (2, 3)   # 61 and 122 seconds
    assert (taper.first, taper.last, taper.waits, taper.now) == (date(2026, 3, 7), None, "decision", False)
    assert (maintenance.first, maintenance.waits) == (None, "")


def test_weeks_run_back_from_this_one_to_the_first():
    assert days.weeks_back(START, date(2026, 3, 10)) == [date(2026, 3, 9), date(2026, 3, 2), date(2026, 2, 23)]
    assert days.weeks_back(START, date(2026, 2, 27)) == []


@pytest.mark.parametrize("today", [START - timedelta(days=5), START, START + timedelta(days=400)])
def test_the_picture_holds_today_and_never_more_than_twelve_weeks(today):
    first, last = days.ribbon_bounds(START, PLAN, today)
    assert START <= first <= max(today, START) <= last
    assert 28 <= (last - first).days + 1 <= 84


@pytest.mark.parametrize(
    ("asked", "done", "paused", "word"),
    [
        (0, 0, False, "new"), (0, 0, True, "paused"), (5, 0, False, "silent"), (5, 4, False, "on_track"),
        (10, 7, False, "partly"), (10, 5, False, "partly"), (10, 4, False, "low"), (5, 9, True, "on_track"),
    ],
)
def test_a_word_for_the_week(asked, done, paused, word):
    assert days.week_word(asked, done, Bands(), paused=paused) == word
