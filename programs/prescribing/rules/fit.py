"""Fit to time: the most of a program that fits into the minutes a day a client has.

What is wished for, first things first, so that nothing lower is bought with something higher:

1. Every exercise stays if its minimum fits. When not all can, as many of priority 1 as possible stay, then of 2, and so on.
2. Among those of like priority the earlier one stays.
3. Priority 1 loses as little of its dose as possible, then 2, and so on. What an exercise loses is counted in whole per
   cent of its full work, squared, so that a cut is shared out and does not fall on one exercise alone.

A dose is only ever lowered from its full end, never below its minimum. The answer is exact: it equals an exhaustive search.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import Literal
from uuid import UUID

from programs.library.rules.dose import Continuous, Dose, Hold, Reps, Roll, Span
from programs.prescribing.rules.plan import ItemPlan

MOST_STOPS = 8                 # amounts tried along one range
ROUND_NUMBERS = (1, 5, 15, 60, 300, 600)
LEAST_MINUTES, MOST_MINUTES = 1, 240
TRIED = 8                      # every so many states are rounded to a whole answer, which bounds the search
State = tuple[int, int, int, int]   # seconds, loss, place of the state before, step taken


@dataclass(frozen=True, slots=True)
class Step:
    """One way to give an item: its full end lowered to `item`'s. Seconds of a session; `loss` in per cent, squared."""

    item: ItemPlan
    seconds: int
    loss: int


@dataclass(frozen=True, slots=True)
class GivenUp:
    """What one item lost. `code`: left_out, or shortened. Seconds of a session in full, before and after."""

    code: Literal["left_out", "shortened"]
    key: UUID
    exercise: str
    priority: int
    was: ItemPlan
    now: ItemPlan | None
    was_seconds: int
    now_seconds: int


@dataclass(frozen=True, slots=True)
class Fitted:
    """The items that fit, in their order, and what was given up. Seconds are those of one session in full.

    `items` is empty when not even the shortest exercise fits; `least` is then what that one takes.
    """

    items: tuple[ItemPlan, ...]
    given_up: tuple[GivenUp, ...]
    was_seconds: int
    now_seconds: int
    least: int


def stops(span: Span) -> list[int]:
    """The full ends that are tried: both ends of a range and the round numbers between, MOST_STOPS at most."""
    for step in ROUND_NUMBERS:
        between = [number for number in range(span.minimum + 1, span.full) if number % step == 0]
        if len(between) + 2 <= MOST_STOPS:
            break
    return sorted({span.minimum, *between, span.full})


def steps(item: ItemPlan) -> list[Step]:
    """Every way to give an item, the shortest first; a way that takes longer than another and gives less is left away."""
    full = item.work("full")
    ways = []
    for rounds, dose in product(stops(item.rounds), _doses(item.dose)):
        lowered = replace(item, rounds=Span(item.rounds.minimum, rounds), dose=dose)
        short = round(100 * (full - lowered.work("full")) / full)
        ways.append(Step(lowered, lowered.seconds("full"), short * short))
    kept: list[Step] = []
    for way in sorted(ways, key=lambda way: (way.seconds, way.loss)):
        if not kept or way.loss < kept[-1].loss:
            kept.append(way)
    return kept


def _doses(dose: Dose) -> Iterable[Dose]:
    def lowered(span: Span) -> list[Span]:
        return [Span(span.minimum, full) for full in stops(span)]

    match dose:
        case Hold():
            return [replace(dose, holds=n, seconds=s) for n, s in product(lowered(dose.holds), lowered(dose.seconds))]
        case Reps():
            return [replace(dose, sets=n, reps=s) for n, s in product(lowered(dose.sets), lowered(dose.reps))]
        case Roll():
            return [replace(dose, sets=n, seconds=s) for n, s in product(lowered(dose.sets), lowered(dose.seconds))]
        case Continuous():
            return [replace(dose, minutes=n) for n in lowered(dose.minutes)]


def fit(items: Sequence[ItemPlan], minutes: int, sessions: int = 1) -> Fitted:
    """The items within `minutes` a day of `sessions` sessions. ValueError when either is out of range."""
    if not LEAST_MINUTES <= minutes <= MOST_MINUTES:
        raise ValueError(f"minutes must be {LEAST_MINUTES} to {MOST_MINUTES}, not {minutes}")
    if sessions < 1:
        raise ValueError(f"sessions must be 1 or more, not {sessions}")
    budget = minutes * 60 // sessions
    ways = [steps(item) for item in items]
    kept = _kept([item.priority for item in items], [way[0].seconds for way in ways], budget)
    chosen: dict[int, Step] = {}
    left = budget
    for priority in sorted({items[index].priority for index in kept}):
        mine = [index for index in kept if items[index].priority == priority]
        later = sum(ways[index][0].seconds for index in kept if items[index].priority > priority)
        found = cheapest([ways[index] for index in mine], left - later)
        chosen |= dict(zip(mine, found, strict=True))
        left -= sum(step.seconds for step in found)
    return Fitted(
        tuple(chosen[index].item for index in sorted(chosen)), tuple(_given_up(items, ways, chosen)),
        sum(item.seconds("full") for item in items), budget - left, min((way[0].seconds for way in ways), default=0),
    )


def _kept(priorities: Sequence[int], least: Sequence[int], budget: int) -> list[int]:
    """Which items stay, by wishes 1 and 2."""
    order = sorted(range(len(least)), key=lambda index: (priorities[index], index))
    room, count = budget, {}
    for priority in sorted(set(priorities)):
        count[priority] = 0
        for seconds in sorted(least[index] for index in order if priorities[index] == priority):
            if seconds > room:
                break
            room, count[priority] = room - seconds, count[priority] + 1
    kept: list[int] = []
    room = budget
    for place, index in enumerate(order):
        priority = priorities[index]
        if not count[priority]:
            continue
        rest = order[place + 1:]
        # keep it if the shortest of those behind it still make up every count
        wanted = {**count, priority: count[priority] - 1}
        if least[index] + _shortest(rest, priorities, least, wanted) <= room:
            kept.append(index)
            room -= least[index]
            count = wanted
    return kept


def _shortest(rest: Sequence[int], priorities: Sequence[int], least: Sequence[int], wanted: dict[int, int]) -> int:
    """Seconds of the shortest `wanted` items of each priority among `rest`."""
    return sum(
        sum(sorted(least[index] for index in rest if priorities[index] == priority)[:number])
        for priority, number in wanted.items()
    )


def cheapest(ways: Sequence[Sequence[Step]], budget: int) -> list[Step]:
    """One step of each, the least loss within `budget` seconds and of those the shortest; the first steps must fit.

    Dynamic programming over (seconds, loss) with dominated states dropped, and those that cannot beat a known answer: what
    the items still to come lose at least is bounded by their convex hull (the relaxed multiple-choice knapsack).
    """
    bounds = _bounds(ways)
    best = bounds[0].rounded(budget)
    layers: list[list[State]] = [[(0, 0, 0, 0)]]
    for options, behind in zip(ways, bounds[1:], strict=True):
        room = budget - behind.seconds
        grown = [
            (seconds + step.seconds, loss + step.loss, before, index)
            for before, (seconds, loss, _, _) in enumerate(layers[-1])
            for index, step in enumerate(options)
            if seconds + step.seconds <= room and loss + step.loss + behind.lowest <= best
        ]
        layer: list[State] = []
        lowest = best + 1
        for state in sorted(grown):
            if state[1] < lowest and state[1] + behind.least_loss(budget - state[0]) <= best:
                layer.append(state)
                lowest = state[1]
        best = min([best, *(loss + behind.rounded(budget - seconds) for seconds, loss, _, _ in layer[::TRIED])])
        layers.append(layer)
    return _way_back(ways, layers)


def _way_back(ways: Sequence[Sequence[Step]], layers: Sequence[Sequence[State]]) -> list[Step]:
    """The steps that lead to the least loss, the shortest among equals."""
    at = min(range(len(layers[-1])), key=lambda place: (layers[-1][place][1], layers[-1][place][0]))
    found = []
    for options, layer in zip(reversed(ways), reversed(layers), strict=False):
        _, _, before, index = layer[at]
        found.append(options[index])
        at = before
    return found[::-1]


def _bounds(ways: Sequence[Sequence[Step]]) -> list[_Bound]:
    """The bound of each tail of `ways`, the empty one included."""
    edges = [
        (before.loss - after.loss, after.seconds - before.seconds, owner)
        for owner, options in enumerate(ways)
        for before, after in pairwise(_hull(options))
    ]
    edges.sort(key=lambda edge: edge[0] / edge[1], reverse=True)
    return [
        _Bound(ways[place:], [edge for edge in edges if edge[2] >= place]) for place in range(len(ways) + 1)
    ]


class _Bound:
    """What some items lose at least within a budget: the lower convex hulls of their steps, taken steepest first."""

    def __init__(self, ways: Sequence[Sequence[Step]], edges: Sequence[tuple[int, int, int]]) -> None:
        self.seconds = sum(options[0].seconds for options in ways)
        self.lowest = sum(options[-1].loss for options in ways)
        self.at, self.lost = [self.seconds], [sum(options[0].loss for options in ways)]
        self.edges = edges   # loss taken away, seconds it costs, whose it is
        for gain, cost, _ in edges:
            self.at.append(self.at[-1] + cost)
            self.lost.append(self.lost[-1] - gain)

    def least_loss(self, budget: int) -> int:
        """Never more than the least loss within `budget` seconds, which must hold the shortest steps."""
        place = bisect_right(self.at, budget) - 1
        if place >= len(self.edges):
            return self.lost[-1]
        gain, cost, _ = self.edges[place]
        return self.lost[place] - gain * (budget - self.at[place]) // cost

    def rounded(self, budget: int) -> int:
        """The loss of an answer within `budget`: whole edges only, steepest first, those that no longer fit left away."""
        left, loss = budget - self.seconds, self.lost[0]
        closed: set[int] = set()   # an item's later edge may not be taken without the one before
        for gain, cost, owner in self.edges:
            if cost > left:
                closed.add(owner)
            elif owner not in closed:
                left, loss = left - cost, loss - gain
        return loss


def _hull(options: Sequence[Step]) -> list[Step]:
    """The steps on the lower convex hull of loss over seconds."""
    hull: list[Step] = []
    for step in options:
        while len(hull) > 1 and (hull[-1].loss - step.loss) * (hull[-1].seconds - hull[-2].seconds) >= (
            hull[-2].loss - hull[-1].loss
        ) * (step.seconds - hull[-1].seconds):
            hull.pop()
        hull.append(step)
    return hull


def _given_up(
    items: Sequence[ItemPlan], ways: Sequence[Sequence[Step]], chosen: dict[int, Step]
) -> Iterable[GivenUp]:
    for index, item in enumerate(items):
        step, full = chosen.get(index), item.seconds("full")
        if step is None:
            yield GivenUp("left_out", item.key, item.exercise, item.priority, item, None, full, 0)
        elif step.seconds < full:
            yield GivenUp("shortened", item.key, item.exercise, item.priority, item, step.item, full, step.seconds)
