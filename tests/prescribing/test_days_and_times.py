"""Days of the week and times of day of a phase: in the plan, in the stored form, in the database."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations
from uuid import UUID

import pytest
from django.db import IntegrityError, connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span, work_seconds
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Phase
from programs.prescribing.queries import newest_revision, plan_of
from programs.prescribing.rules.bits import from_bits, to_bits
from programs.prescribing.rules.diff import differences
from programs.prescribing.rules.plan import TIMES, WEEKDAYS, ItemPlan, PhasePlan, Plan, as_if_decided, day_plan, problems
from programs.prescribing.rules.plan_json import PlanError, plan_from_json, plan_to_json

MONDAY = date(2026, 3, 2)
ITEM = ItemPlan(UUID(int=1), "clamshell", 1, Reps(Span(1, 2), Span(8, 12)))
MON_THU = PhasePlan("maintenance", None, Span(1, 2), 2, weekdays=("MO", "TH"), times=("morning", "evening"))


def some_of(names):
    return st.lists(st.sampled_from(names), unique=True).map(lambda chosen: tuple(n for n in names if n in chosen))


def spans(most):
    return st.tuples(st.integers(1, most), st.integers(1, most)).map(lambda pair: Span(min(pair), max(pair)))


doses = st.one_of(
    st.builds(Hold, spans(4), spans(60), st.integers(0, 20)), st.builds(Reps, spans(3), spans(20), st.integers(1, 6)),
    st.builds(Roll, spans(3), spans(120), st.just(3), st.integers(0, 20)), st.builds(Continuous, spans(20)),
)
items = st.lists(
    st.builds(
        ItemPlan, st.uuids(), st.just("x"), st.just(1), doses,
        st.sampled_from(["both", "each", "alternating", "left", "right"]), spans(3), st.integers(0, 40),
    ),
    min_size=1, max_size=5,
)
phases = st.builds(
    lambda kind, days, sessions, week, chosen: PhasePlan(kind, days, sessions, len(chosen) or week, weekdays=chosen),
    st.sampled_from(["kick_off", "taper", "maintenance"]), st.integers(1, 30), spans(3), st.integers(1, 7),
    some_of(WEEKDAYS),
)


def test_the_calendar_says_which_days_have_a_session():
    plan = Plan(MONDAY + timedelta(1), (MON_THU,), (ITEM,))
    week = [day_plan(plan, plan.anchor + timedelta(n)).sessions is not None for n in range(7)]
    assert week == [False, False, True, False, False, False, True]   # from a Tuesday on: Thursday, Monday


def test_days_of_the_week_need_to_know_the_day():
    with pytest.raises(ValueError, match="needs the day"):
        MON_THU.active_on(0)


@given(st.integers(0, 127), st.integers(0, 400), st.integers(0, 6))
def test_any_seven_days_in_a_row_hold_each_chosen_day_once(number, first, offset):
    chosen = from_bits(number, WEEKDAYS)
    assert to_bits(chosen, WEEKDAYS) == number
    if chosen:
        phase = PhasePlan("taper", 30, Span(1, 1), len(chosen), weekdays=chosen)
        days = [MONDAY + timedelta(offset + n) for n in range(first, first + 7)]
        assert sorted(WEEKDAYS[day.weekday()] for day in days if phase.active_on(0, day)) == sorted(chosen)


@settings(max_examples=60, deadline=None)
@given(st.lists(phases, min_size=1, max_size=4), items, st.integers(0, 6))
def test_seconds_item_by_item_equal_the_sum_of_the_day_calendar(some_phases, some_items, offset):
    """Each phase's days with a session x sessions x each item: set-up once, each round once a side, turning over between."""
    plan = as_if_decided(Plan(MONDAY + timedelta(offset), tuple(some_phases), tuple(some_items)))
    length = sum(phase.days for phase in some_phases)
    calendar = [day_plan(plan, plan.anchor + timedelta(n)) for n in range(length)]
    first = 0
    expected = {"minimum": 0, "full": 0}
    for phase in some_phases:
        days = [plan.anchor + timedelta(n) for n in range(first, first + phase.days)]
        active = sum(phase.active_on(n, day) for n, day in enumerate(days))
        for end in expected:
            for item in some_items:
                sides = 2 if item.side == "each" else 1
                rounds = item.rounds.at(end)
                once = item.setup_seconds + rounds * (sides * work_seconds(item.dose, end) + (sides - 1) * 5)
                expected[end] += active * phase.sessions.at(end) * once
        first += phase.days
    assert sum(day.minimum_seconds for day in calendar) == expected["minimum"]
    assert sum(day.full_seconds for day in calendar) == expected["full"]


@pytest.mark.parametrize(
    ("phase", "field"),
    [
        (replace(MON_THU, days_per_week=3), "weekdays"), (replace(MON_THU, times=("morning",)), "times"),
        (replace(MON_THU, sessions=Span(1, 3)), "times"), (MON_THU, None),
    ],
)
def test_as_many_days_and_times_as_the_phase_says(phase, field):
    assert list(problems((phase,), (ITEM,))) == ([f"phases.0.{field}"] if field else [])


def test_the_stored_form_keeps_both_and_counts_the_days():
    plan = Plan(MONDAY, (MON_THU,), (ITEM,))
    data = plan_to_json(plan)
    assert (data["phases"][0]["weekdays"], data["phases"][0]["times"]) == (["MO", "TH"], ["morning", "evening"])
    del data["phases"][0]["days_per_week"]
    data["phases"][0]["weekdays"] = ["TH", "MO"]
    assert plan_from_json(data, MONDAY) == plan


@pytest.mark.parametrize(
    ("name", "value"),
    [("weekdays", "MO"), ("weekdays", ["MO", "MO"]), ("weekdays", ["XX"]), ("weekdays", [1]), ("times", ["noon"])],
)
def test_what_cannot_be_read_is_named_by_its_path(name, value):
    data = plan_to_json(Plan(MONDAY, (MON_THU,), (ITEM,)))
    data["phases"][0][name] = value
    with pytest.raises(PlanError) as refused:
        plan_from_json(data, MONDAY)
    assert list(refused.value.fields) == [f"phases.0.{name}"]


def test_a_change_of_days_is_told():
    old, new = (Plan(MONDAY, (phase,), (ITEM,)) for phase in (MON_THU, replace(MON_THU, weekdays=("TU", "TH"), times=())))
    assert [(change.code, change.was, change.now) for change in differences(old, new)] == [
        ("weekdays", ["MO", "TH"], ["TU", "TH"]), ("times", ["morning", "evening"], []),
    ]


def test_they_are_kept_with_a_revision(cast, program, plan, now):
    plan = replace(plan, phases=(*plan.phases[:-1], MON_THU))
    revise_program(
        by=cast.mina.user, program=program, plan=plan, effective_from=now.date(), reason="Her free days", based_on=1, now=now
    )
    assert plan_of(newest_revision(program)) == plan


def _phase_row(program, **values):
    row = {
        "revision": newest_revision(program), "number": 20, "kind": "taper", "days": 7, "sessions_minimum": 1,
        "sessions_full": 1, "days_per_week": 2,
    }
    return Phase(**{**row, **values})


@pytest.mark.parametrize(
    "values",
    [{"weekdays": 0b111}, {"weekdays": 0b1000_0001}, {"weekdays": 1}, {"times": 0b11}, {"times": 0b1000}],
)
def test_the_database_refuses_another_number_of_days_or_times(program, values):
    with pytest.raises(IntegrityError), transaction.atomic():
        Phase.objects.bulk_create([_phase_row(program, **values)])


def test_the_database_takes_every_pair_of_days(program):
    pairs = [1 << first | 1 << second for first, second in combinations(range(7), 2)]
    Phase.objects.bulk_create(
        _phase_row(program, number=20 + n, weekdays=bits, times=1 << n % 3) for n, bits in enumerate(pairs)
    )
    assert Phase.objects.filter(number__gte=20).count() == 21
    assert from_bits(0b101, TIMES) == ("morning", "evening")


def test_a_phase_is_still_written_once(program):
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE prescribing_phase SET weekdays = 3")
