"""Windows of each reason, scoring and change, at their edges."""

from __future__ import annotations

import math
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.visits.rules import change, plan
from clinic.visits.rules.plan import Window
from clinic.visits.rules.scoring import ItemProblem, Structure, problems, score, value_range

unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])   # a busy machine is no failure

MONDAY = date(2026, 3, 2)


def test_a_kick_off_of_seven_days_is_looked_at_on_the_eighth():
    assert plan.after_kick_off(MONDAY, 7) == Window(date(2026, 3, 7), date(2026, 3, 9), date(2026, 3, 16))
    assert plan.after_kick_off(MONDAY, 1) == Window(date(2026, 3, 1), date(2026, 3, 3), date(2026, 3, 10))
    with pytest.raises(ValueError, match="at least 1 day"):
        plan.after_kick_off(MONDAY, 0)


def test_the_regular_look_is_every_four_weeks():
    assert plan.after_interval(MONDAY) == Window(date(2026, 3, 27), date(2026, 3, 30), date(2026, 4, 6))
    assert plan.after_interval(MONDAY, 1).earliest == date(2026, 3, 3)
    with pytest.raises(ValueError, match="at least 1 day"):
        plan.after_interval(MONDAY, 0)


def test_the_tenth_day_of_treatment_is_a_look():
    assert plan.after_visits(8, MONDAY) is None
    assert plan.after_visits(9, MONDAY) == Window(MONDAY, date(2026, 3, 9), date(2026, 3, 16))
    with pytest.raises(ValueError, match="every visit"):
        plan.after_visits(1, MONDAY, every=1)


def test_a_referral_is_looked_at_before_it_ends():
    assert plan.before_referral_ends(date(2026, 3, 31), MONDAY) == Window(
        date(2026, 3, 10), date(2026, 3, 17), date(2026, 3, 31)
    )
    assert plan.before_referral_ends(date(2026, 3, 5), MONDAY).due == MONDAY
    assert plan.before_referral_ends(MONDAY, MONDAY).latest == MONDAY
    assert plan.before_referral_ends(date(2026, 3, 1), MONDAY) is None
    assert plan.before_visits_run_out(6, 4, MONDAY) is None
    assert plan.before_visits_run_out(6, 5, MONDAY).earliest == MONDAY


@unhurried
@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 400))
def test_every_window_is_in_order(day, count):
    for window in (
        plan.after_kick_off(day, count), plan.after_interval(day, count), plan.after_visits(count + 1, day, count + 1),
        plan.before_referral_ends(day, day), plan.before_visits_run_out(1, count, day),
    ):
        assert window.earliest <= window.due <= window.latest


@pytest.mark.parametrize(
    ("values", "code", "item"),
    [
        ([1] * 12, "too_many", 0), ([1] * 9, "too_few", 0), ([], "too_few", 0), ([1, 0] + [1] * 9, "out_of_range", 2),
        ([1] * 10 + [5.5], "out_of_range", 11), ([math.nan] + [1] * 10, "not_a_number", 1),
        ([math.inf] + [1] * 10, "not_a_number", 1),
    ],
)
def test_bad_items_are_named(values, code, item):
    with pytest.raises(ItemProblem) as refused:
        score(Structure("scaled_mean", 11, 1, 5, 10), values)
    assert (refused.value.code, refused.value.item) == (code, item)


def test_every_bad_item_is_named_at_once():
    found = problems(Structure("sum", 3, 0, 4, 3), [9, None, -1])
    assert [(problem.code, problem.item) for problem in found] == [("out_of_range", 1), ("out_of_range", 3)]


@pytest.mark.parametrize(
    "wrong", [("sum", 20, 0, 4, 19), ("mean", 5, 4, 4, 3), ("mean", 5, 0, 10, 6), ("percent_of_answered", 10, 1, 5, 9)]
)
def test_a_structure_that_makes_no_sense_is_refused(wrong):
    with pytest.raises(ValueError, match=r"item|range"):
        Structure(*wrong)


@unhurried
@given(
    st.sampled_from(["mean", "percent_of_answered", "scaled_mean"]), st.lists(st.none() | st.integers(0, 5), max_size=10)
)
def test_a_value_lies_in_its_range_and_missing_items_at_the_end_change_nothing(scoring, values):
    structure = Structure(scoring, 10, 0, 5, 1)
    if all(value is None for value in values):
        assert [problem.code for problem in problems(structure, values)] == ["too_few"]
        return
    low, high = value_range(structure)
    assert low <= score(structure, values) <= high + 1e-9
    assert score(structure, values) == score(structure, values + [None] * (10 - len(values)))


@pytest.mark.parametrize(
    ("before", "after", "bounds", "higher", "expected"),
    [
        (7, 5, (2, 2), False, "improved_beyond_mcid"),
        (7, 5.1, (2, 2), False, "no_detectable_change"),
        (5, 7, (2, 2), False, "worse_beyond_mcid"),
        (40, 49, (9, 12), True, "changed_beyond_error"),
        (49, 40, (9, 12), True, "changed_beyond_error"),
        # an MCID below the MDC: ten points cannot be told from error
        (40, 30, (11.2, 8), False, "no_detectable_change"),
        (40, 28, (11.2, 8), False, "improved_beyond_mcid"),
        (3, 4, (None, 1), True, "improved_beyond_mcid"),
        (3, 3.5, (None, 1), True, "no_detectable_change"),
        (3, 5, (1.9, None), True, "changed_beyond_error"),
        (90, 110, (None, None), True, "not_judged"),
        (0.1, 0.3, (0.2, 0.2), True, "improved_beyond_mcid"),   # 0.3 - 0.1 is a little below 0.2 in floats
    ],
)
def test_change_is_judged_with_both_bounds(before, after, bounds, higher, expected):
    answer = change.judge(before, after, higher_is_better=higher, mdc=bounds[0], mcid=bounds[1])
    assert answer.code == expected
    assert answer.difference == after - before
    assert answer.better == ((after > before) == higher)


def test_symmetry_is_the_smaller_side_in_percent_of_the_larger():
    assert change.symmetry(90, 120) == change.symmetry(120, 90) == 75
    assert change.symmetry(0, 0) is None
    assert change.symmetry(-5, 10) is None


def test_errors_of_measurement_refuse_what_cannot_be():
    with pytest.raises(ValueError, match="ICC"):
        change.sem(5, 1.2)
    with pytest.raises(ValueError, match="two trials"):
        change.sem_of_trials([1, 2], [1])
    with pytest.raises(ValueError, match="without any error"):
        change.reliable_change(1, 2, 5, 1)
    with pytest.raises(KeyError):
        change.mdc_from_sem(1, 80)
