"""The timer's steps add up to what is prescribed."""

from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span
from programs.portal.rules.steps import steps_of
from programs.portal.vocab import StepKind
from programs.prescribing.rules.plan import ItemPlan

KEY = UUID(int=1)


def spans(most):
    return st.tuples(st.integers(1, most), st.integers(1, most)).map(lambda pair: Span(min(pair), max(pair)))


doses = st.one_of(
    st.builds(Hold, spans(6), spans(90), st.integers(0, 60)),
    st.builds(Reps, spans(6), spans(20), st.integers(1, 10), st.integers(0, 90)),
    st.builds(Roll, spans(4), spans(120), st.just(3), st.integers(0, 60)),
    st.builds(Continuous, spans(30)),
)


@settings(deadline=None, max_examples=80)
@given(
    dose=doses, side=st.sampled_from(["both", "each", "alternating", "left", "right"]), rounds=spans(3),
    end=st.sampled_from(["minimum", "full"]),
)
def test_the_steps_last_as_long_as_the_item(dose, side, rounds, end):
    item = ItemPlan(KEY, "any", 1, dose, side=side, rounds=rounds)
    steps = steps_of(item, end)
    worked = sum(step.seconds for step in steps if step.kind != StepKind.CHANGE)
    assert worked == item.work(end)
    assert sum(step.seconds for step in steps) + item.setup_seconds == item.seconds(end)


def test_each_side_in_turn_with_rests_between_and_a_change():
    item = ItemPlan(KEY, "lean", 1, Hold(Span(2, 2), Span(30, 30), rest=10), side="each")
    assert [(step.kind, step.side, step.seconds, step.number) for step in steps_of(item, "full")] == [
        ("work", "left", 30, 1), ("rest", "left", 10, 1), ("work", "left", 30, 2),
        ("change", "right", 5, 1),
        ("work", "right", 30, 1), ("rest", "right", 10, 1), ("work", "right", 30, 2),
    ]


@pytest.mark.parametrize(("side", "sides"), [("left", {"left"}), ("right", {"right"}), ("alternating", {"both"})])
def test_one_side_only_stays_on_that_side(side, sides):
    item = ItemPlan(KEY, "lift", 1, Reps(Span(1, 1), Span(8, 8)), side=side)
    assert {step.side for step in steps_of(item, "full")} == sides


def test_repetitions_are_counted_for_the_client():
    item = ItemPlan(KEY, "lift", 1, Reps(Span(1, 1), Span(8, 12), tempo=4))
    assert [(step.reps, step.seconds) for step in steps_of(item, "full")] == [(12, 48)]
