"""Fit to time against an exhaustive search, and what must hold of every answer. Speed: tests/benchmarks/prescribing.py."""

from dataclasses import replace
from itertools import product
from random import Random
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span
from programs.prescribing.rules.fit import Fitted, fit, steps, stops
from programs.prescribing.rules.plan import ItemPlan


def spans(most):
    return st.tuples(st.integers(1, most), st.integers(1, most)).map(lambda pair: Span(min(pair), max(pair)))


doses = st.one_of(
    st.builds(Hold, spans(4), spans(60), st.integers(0, 20)), st.builds(Reps, spans(4), spans(20), st.integers(1, 6)),
    st.builds(Roll, spans(3), spans(120), st.just(3), st.integers(0, 20)), st.builds(Continuous, spans(20)),
)
programs = st.lists(
    st.builds(
        ItemPlan, st.uuids(), st.just("x"), st.just(1), doses, st.sampled_from(["both", "each", "left"]), spans(3),
        st.integers(0, 40), st.integers(1, 3),
    ),
    min_size=1, max_size=7, unique_by=lambda item: item.key,
)


def small_program(dice: Random) -> list[ItemPlan]:
    """Two to four exercises with few steps each, so that every combination can be tried."""

    def span(low, high):
        least = dice.randint(low, high)
        return Span(least, min(high, least + dice.randint(0, 2)))

    kinds = [
        lambda: Reps(span(1, 3), Span(8, 8), dice.randint(2, 5), dice.randint(0, 30)),
        lambda: Hold(span(1, 4), Span(30, 30), dice.randint(0, 10)),
        lambda: Roll(Span(1, 1), Span(30, dice.choice([30, 31, 32])), 3),
        lambda: Continuous(span(1, 4)),
    ]
    return [
        ItemPlan(
            UUID(int=number), f"x{number}", 1, dice.choice(kinds)(), dice.choice(["each", "both"]), span(1, 2),
            dice.choice([0, 7, 20]), dice.randint(1, 2),
        )
        for number in range(dice.randint(2, 4))
    ]


def wishes(items, chosen):
    """The order of wishes of rules.fit as one tuple, the less the better; `chosen` holds a step or None for each item."""
    order = sorted(range(len(items)), key=lambda index: (items[index].priority, index))
    priorities = sorted({item.priority for item in items})

    def of(priority):
        return [chosen[index] for index in order if items[index].priority == priority]

    return (
        tuple(sum(step is None for step in of(priority)) for priority in priorities),
        tuple(chosen[index] is None for index in order),
        tuple(sum(step.loss for step in of(priority) if step) for priority in priorities),
    )


def loss_of(item, now):
    short = round(100 * (item.work("full") - now.work("full")) / item.work("full"))
    return short * short


def as_chosen(items, fitted: Fitted):
    now = {item.key: item for item in fitted.items}
    found = []
    for item in items:
        ways = {way.seconds: way for way in steps(item)}
        found.append(ways[now[item.key].seconds("full")] if item.key in now else None)
    return found


@pytest.mark.parametrize("seed", range(200))
def test_it_equals_an_exhaustive_search(seed):
    dice = Random(seed)
    items = small_program(dice)
    most = sum(item.seconds("full") for item in items)
    sessions = dice.randint(1, 2)
    minutes = dice.randint(1, max(1, most * sessions // 60))
    every = product(*([*steps(item), None] for item in items))
    best = min(
        wishes(items, chosen) for chosen in every
        if sum(step.seconds for step in chosen if step) <= minutes * 60 // sessions
    )
    assert wishes(items, as_chosen(items, fit(items, minutes, sessions))) == best


@settings(max_examples=80, deadline=None)
@given(programs, st.integers(1, 60), st.integers(1, 3))
def test_what_holds_of_every_answer(items, minutes, sessions):
    fitted = fit(items, minutes, sessions)
    was = {item.key: item for item in items}
    assert sessions * fitted.now_seconds <= 60 * minutes
    assert fitted.now_seconds == sum(item.seconds("full") for item in fitted.items)
    assert [item.key for item in fitted.items] == [key for key in was if key in {item.key for item in fitted.items}]
    for item in fitted.items:
        before = was[item.key]
        assert item.seconds("minimum") == before.seconds("minimum")   # never below the minimum, which stays as it is
        assert item.seconds("minimum") <= item.seconds("full") <= before.seconds("full")
    lost = {given.key: given for given in fitted.given_up}
    for key, before in was.items():
        now = next((item for item in fitted.items if item.key == key), None)
        if now is None:
            assert lost[key].code == "left_out"
        elif now != before:
            assert (lost[key].code, lost[key].now_seconds) == ("shortened", now.seconds("full"))
        else:
            assert key not in lost


@settings(max_examples=80, deadline=None)
@given(programs, st.integers(1, 40))
def test_nothing_of_a_higher_priority_is_given_up_before_something_lower(items, minutes):
    fitted = fit(items, minutes)
    now = {item.key: item for item in fitted.items}
    for item in items:
        kept = {key: other for key, other in now.items() if key != item.key}
        if item.key not in now:
            # with all that is lower left out and the rest at its least it still would not fit
            higher = [other for other in kept.values() if other.priority <= item.priority]
            assert sum(other.seconds("minimum") for other in higher) + item.seconds("minimum") > 60 * minutes
            continue
        longer = [way.seconds for way in steps(item) if way.loss < loss_of(item, now[item.key])]
        if longer:
            others = sum(
                other.seconds("minimum" if other.priority > item.priority else "full") for other in kept.values()
            )
            assert others + longer[0] > 60 * minutes


def test_nothing_is_given_up_when_it_fits_to_the_second():
    item = ItemPlan(UUID(int=1), "x", 1, Hold(Span(1, 2), Span(20, 30)), setup_seconds=0)
    assert fit([item], 1) == Fitted((item,), (), 60, 60, 20)
    assert fit([replace(item, setup_seconds=1)], 1).given_up[0].code == "shortened"


def test_doses_go_before_exercises_and_the_lower_priority_first():
    """Two of 60 to 120 s with no set-up in 3 minutes: the first keeps its 120 s, the second falls to its 60 s. In 2
    minutes both are at their least; in 1 minute only the first stays."""
    first, second = (
        ItemPlan(UUID(int=n), f"x{n}", 1, Continuous(Span(1, 2)), setup_seconds=0, priority=n) for n in (1, 2)
    )
    assert [item.seconds("full") for item in fit([second, first], 3).items] == [60, 120]
    assert [item.seconds("full") for item in fit([second, first], 2).items] == [60, 60]
    alone = fit([second, first], 1)
    assert [item.exercise for item in alone.items] == ["x1"]
    assert [(lost.code, lost.exercise) for lost in alone.given_up] == [("left_out", "x2"), ("shortened", "x1")]


def test_a_cut_is_shared_out_among_equals():
    alike = [ItemPlan(UUID(int=n), f"x{n}", 1, Continuous(Span(1, 3)), setup_seconds=0) for n in (1, 2)]
    assert [item.seconds("full") for item in fit(alike, 4).items] == [120, 120]


def test_not_even_the_shortest_fits():
    walk = ItemPlan(UUID(int=1), "walk", 1, Continuous(Span(10, 20)), setup_seconds=0)
    fitted = fit([walk], 5)
    assert (fitted.items, fitted.least, fitted.given_up[0].code) == ((), 600, "left_out")


@pytest.mark.parametrize(("minutes", "sessions"), [(0, 1), (241, 1), (-5, 1), (10, 0)])
def test_minutes_and_sessions_out_of_range(minutes, sessions):
    with pytest.raises(ValueError, match="must be"):
        fit([], minutes, sessions)


@given(spans(3600))
def test_a_range_has_few_stops_and_both_its_ends(span):
    found = stops(span)
    assert {span.minimum, span.full} <= set(found)
    assert found == sorted(set(found))
    assert len(found) <= 8
