"""An exercise as the steps a timer counts down. Seconds throughout."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from programs.library.rules.dose import Continuous, Dose, End, Hold, Reps, Roll
from programs.portal.vocab import StepKind
from programs.prescribing.rules.plan import CHANGE_OF_SIDE_SECONDS, ItemPlan

StepSide = Literal["left", "right", "both"]


@dataclass(frozen=True, slots=True)
class Step:
    """One stretch of the timer. `number` of `of` sets or holds on this side; `reps` 0 when only time counts."""

    kind: StepKind
    side: StepSide
    seconds: int
    number: int
    of: int
    reps: int = 0


def steps_of(item: ItemPlan, end: End) -> list[Step]:
    """Every step of one session of `item`, sides in turn, left first.

    Work and rest together are `item.work(end)`; with the changes of side and the set-up they are `item.seconds(end)`.
    """
    sides = _sides(item)
    steps: list[Step] = []
    for _ in range(item.rounds.at(end)):
        for index, side in enumerate(sides):
            if index:
                steps.append(Step(StepKind.CHANGE, side, CHANGE_OF_SIDE_SECONDS, 1, 1))
            steps.extend(_one_side(item.dose, side, end))
    return steps


def _sides(item: ItemPlan) -> list[StepSide]:
    if item.side == "each":
        return ["left", "right"]
    return [item.side] if item.side in {"left", "right"} else ["both"]


def _one_side(dose: Dose, side: StepSide, end: End) -> Iterator[Step]:
    count, seconds, rest, reps = _sets(dose, end)
    for number in range(1, count + 1):
        yield Step(StepKind.WORK, side, seconds, number, count, reps)
        if rest and number < count:
            yield Step(StepKind.REST, side, rest, number, count)


def _sets(dose: Dose, end: End) -> tuple[int, int, int, int]:
    """(how many, seconds of each, rest between, repetitions in each)."""
    match dose:
        case Hold():
            return dose.holds.at(end), dose.seconds.at(end), dose.rest, 0
        case Reps():
            return dose.sets.at(end), dose.reps.at(end) * dose.tempo, dose.rest, dose.reps.at(end)
        case Roll():
            return dose.sets.at(end), dose.seconds.at(end), dose.rest, 0
        case Continuous():
            return 1, dose.minutes.at(end) * 60, 0, 0
