"""Tapers: golden ways down, and that none ever rises."""

from datetime import date
from itertools import pairwise
from uuid import UUID

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from programs.library.rules.dose import Hold, Span
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan, problems, weekly_sessions
from programs.prescribing.rules.taper import MOST_WEEKS, SHAPES, NoWayDown, taper

TWICE_DAILY = PhasePlan("kick_off", 7, Span(1, 2))
ONCE_DAILY = PhasePlan("kick_off", 7, Span(1, 1))
TWICE_A_WEEK = PhasePlan("maintenance", None, Span(1, 1), 2)
ITEM = ItemPlan(UUID(int=1), "x", 1, Hold(Span(1, 2), Span(20, 30)))


def way(shape, before, after, weeks):
    """(sessions a day, days a week, weeks) of each phase."""
    return [(p.sessions.full, p.days_per_week, p.days // 7) for p in taper(shape, before, after, weeks)]


@pytest.mark.parametrize(
    ("shape", "before", "weeks", "expected"),
    [
        # from 14 a week to 2: half-way is 8, and the first rung below is once a day
        ("step", TWICE_DAILY, 4, [(1, 7, 4)]),
        ("step", ONCE_DAILY, 4, [(1, 5, 4)]),
        # 14 to 2 over four weeks: 12, 9, 7, 4 a week
        ("linear", TWICE_DAILY, 4, [(1, 7, 3), (1, 4, 1)]),
        # 7 to 2: one day less each week
        ("linear", ONCE_DAILY, 4, [(1, 6, 1), (1, 5, 1), (1, 4, 1), (1, 3, 1)]),
        # 14, 7, 4, 2
        ("halving", TWICE_DAILY, 4, [(1, 7, 2), (1, 4, 2)]),
        ("halving", TWICE_DAILY, 5, [(1, 7, 3), (1, 4, 2)]),
        ("halving", TWICE_DAILY, 1, [(1, 7, 1)]),
        ("halving", ONCE_DAILY, 3, [(1, 4, 3)]),
    ],
)
def test_ways_down_worked_out_by_hand(shape, before, weeks, expected):
    assert way(shape, before, TWICE_A_WEEK, weeks) == expected


phases = st.builds(
    lambda least, most, days: PhasePlan("kick_off", 7, Span(min(least, most), max(least, most)), days),
    st.integers(1, 6), st.integers(1, 6), st.integers(1, 7),
)


@given(st.sampled_from(SHAPES), phases, phases, st.integers(1, MOST_WEEKS))
def test_a_taper_never_rises_and_lasts_no_longer_than_said(shape, before, after, weeks):
    assume(weekly_sessions(after).full <= weekly_sessions(before).full)
    try:
        steps = taper(shape, before, after, weeks)
    except NoWayDown:   # which these are is told below
        steps = ()
        weeks = 0
    whole = [before, *steps]
    for earlier, later in pairwise(whole):
        assert weekly_sessions(later).full <= weekly_sessions(earlier).full
        assert weekly_sessions(later).minimum <= weekly_sessions(earlier).minimum
        assert later.days_per_week <= earlier.days_per_week
    assert all(weekly_sessions(step).full >= weekly_sessions(after).full for step in steps)
    assert sum(step.days for step in steps) == 7 * weeks
    assert len({(s.sessions, s.days_per_week) for s in steps}) == len(steps)   # weeks alike are one phase
    assert problems([before, *steps], (ITEM,)) == {}


@pytest.mark.parametrize(
    ("before", "after", "weeks", "code"),
    [
        (TWICE_A_WEEK, ONCE_DAILY, 4, "rises"), (ONCE_DAILY, PhasePlan("maintenance", None, Span(2, 2), 2), 4, "rises"),
        (ONCE_DAILY, ONCE_DAILY, 4, "nothing_between"),
        (ONCE_DAILY, PhasePlan("maintenance", None, Span(1, 1), 6), 4, "nothing_between"),
        (ONCE_DAILY, TWICE_A_WEEK, 0, "weeks"), (ONCE_DAILY, TWICE_A_WEEK, MOST_WEEKS + 1, "weeks"),
    ],
)
def test_where_there_is_no_way_down(before, after, weeks, code):
    with pytest.raises(NoWayDown) as none:
        taper("linear", before, after, weeks)
    assert none.value.code == code


def test_days_and_times_are_kept_while_they_still_fit():
    before = PhasePlan("kick_off", 7, Span(1, 2), 5, weekdays=("MO", "TU", "WE", "TH", "FR"), times=("morning", "evening"))
    first, second = taper("halving", before, TWICE_A_WEEK, 2)
    assert (first.days_per_week, first.weekdays, first.times) == (5, before.weekdays, ())
    assert (second.days_per_week, second.weekdays) == (3, ())
    assert problems([before, first, second, TWICE_A_WEEK], (ITEM,)) == {}


def test_a_tapered_plan_can_be_given():
    steps = taper("linear", TWICE_DAILY, TWICE_A_WEEK, 6)
    plan = Plan(date(2026, 3, 2), (TWICE_DAILY, *steps, TWICE_A_WEEK), (ITEM,))
    assert problems(plan.phases, plan.items) == {}
