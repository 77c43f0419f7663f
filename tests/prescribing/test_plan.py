from datetime import date, timedelta
from itertools import pairwise
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.library.rules.dose import Continuous, Hold, Reps, Span
from programs.prescribing.rules.plan import (
    ItemPlan,
    PhasePlan,
    Plan,
    as_if_decided,
    day_plan,
    from_phase,
    phase_on,
    phase_starts,
    problems,
)

DAY = date(2026, 3, 2)
ONE = UUID(int=1)
ITEM = ItemPlan(ONE, "clamshell", 1, Reps(Span(1, 2), Span(8, 12), tempo=4, rest=20), side="each")
KICK_OFF = PhasePlan("kick_off", 7, Span(1, 2))
TAPER = PhasePlan("taper", 14, Span(1, 1), 4)
MAINTENANCE = PhasePlan("maintenance", None, Span(1, 1), 2)


@given(st.integers(1, 7), st.integers(0, 1000))
def test_any_seven_days_in_a_row_hold_exactly_the_days_of_the_week_asked_for(k, first):
    phase = PhasePlan("taper", 30, Span(1, 1), k)
    assert sum(phase.active_on(first + offset) for offset in range(7)) == k


@pytest.mark.parametrize("k", range(1, 8))
def test_a_phase_begins_with_a_session(k):
    assert PhasePlan("taper", 30, Span(1, 1), k).active_on(0)


@given(st.integers(1, 6))
def test_days_are_spread_so_that_gaps_differ_by_one_at_most(k):
    phase = PhasePlan("taper", 70, Span(1, 1), k)
    active = [index for index in range(70) if phase.active_on(index)]
    gaps = {later - earlier for earlier, later in pairwise(active)}
    assert max(gaps) - min(gaps) <= 1


def test_seconds_of_a_session_by_hand():
    # each side: 2 x (8 x 4) + 20 set-up + 5 turning over; in full 2 x (2 x 12 x 4 + 20) + 25
    assert ITEM.seconds("minimum") == 2 * 32 + 20 + 5
    assert ITEM.seconds("full") == 2 * (96 + 20) + 25


def test_a_day_asks_for_its_sessions_times_a_session():
    plan = Plan(DAY, (KICK_OFF, TAPER, MAINTENANCE), (ITEM,))
    asked = day_plan(plan, DAY)
    assert (asked.minimum_seconds, asked.full_seconds) == (89, 2 * 257)


def test_phases_follow_one_another_by_date_and_the_last_goes_on():
    plan = Plan(DAY, (KICK_OFF, TAPER, MAINTENANCE), (ITEM,))
    assert phase_on(plan, DAY + timedelta(6)) == (0, 6)
    assert phase_on(plan, DAY + timedelta(7)) == (1, 0)
    assert phase_on(plan, DAY + timedelta(21)) == (2, 0)
    assert phase_on(plan, DAY + timedelta(400)) == (2, 379)
    with pytest.raises(ValueError, match="before the plan's first day"):
        phase_on(plan, DAY - timedelta(1))


def test_a_phase_that_waits_for_a_decision_goes_on_until_there_is_one():
    waits = PhasePlan("kick_off", 7, Span(1, 2), advance="by_decision")
    plan = Plan(DAY, (waits, TAPER, MAINTENANCE), (ITEM,))
    assert phase_on(plan, DAY + timedelta(30)) == (0, 30)
    assert phase_starts(plan) == [(1, DAY)]
    assert phase_starts(as_if_decided(plan)) == [(1, DAY), (2, DAY + timedelta(7)), (3, DAY + timedelta(21))]
    assert phase_on(from_phase(plan, 2, DAY + timedelta(9)), DAY + timedelta(9)) == (0, 0)


def test_a_sound_plan_has_no_problems():
    assert problems((KICK_OFF, TAPER, MAINTENANCE), (ITEM,)) == {}


@pytest.mark.parametrize(
    ("phases", "items", "path"),
    [
        ((), (ITEM,), "phases"),
        ((KICK_OFF,), (), "items"),
        ((KICK_OFF,), (ITEM, ITEM), "items"),
        ((KICK_OFF,) * 25, (ITEM,), "phases"),
        ((PhasePlan("kick_off", 0, Span(1, 1)), TAPER), (ITEM,), "phases.0.days"),
        ((PhasePlan("kick_off", None, Span(1, 1)), TAPER), (ITEM,), "phases.0.days"),
        ((PhasePlan("kick_off", 367, Span(1, 1)),), (ITEM,), "phases.0.days"),
        ((PhasePlan("kick_off", 7, Span(1, 1), 8),), (ITEM,), "phases.0.days_per_week"),
        ((PhasePlan("kick_off", 7, Span(1, 7)),), (ITEM,), "phases.0.sessions"),
        ((TAPER, KICK_OFF), (ITEM,), "phases.1.kind"),
        ((TAPER, PhasePlan("taper", 7, Span(1, 1), 5)), (ITEM,), "phases.1.sessions"),
        ((TAPER, PhasePlan("taper", 7, Span(1, 2), 4)), (ITEM,), "phases.1.sessions"),
        ((KICK_OFF, PhasePlan("taper", 7, Span(2, 2))), (ITEM,), "phases.1.sessions"),
    ],
)
def test_what_is_wrong_is_named_by_its_path(phases, items, path):
    assert path in problems(phases, items)


def test_a_day_of_more_than_four_hours_is_refused_and_one_just_below_is_not():
    long, right = (ItemPlan(ONE, "brisk-walk", 1, Continuous(Span(n, n)), setup_seconds=0) for n in (121, 120))
    phase = PhasePlan("kick_off", 7, Span(2, 2))
    assert "phases.0.sessions" in problems((phase,), (long,))
    assert problems((phase,), (right,)) == {}


def test_holds_of_both_sides_together_are_not_counted_twice():
    hold = Hold(Span(2, 2), Span(30, 30), rest=10)
    together, each = ItemPlan(ONE, "x", 1, hold), ItemPlan(ONE, "x", 1, hold, side="each")
    assert (together.work("full"), each.work("full")) == (70, 140)
