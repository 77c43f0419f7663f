"""From items to a value, by structure only: how many items, their range, and how many may be missing.

Sources of the forms: sum, Binkley JM et al. 1999, Phys Ther 79(4):371-383; percent of what the answered sections allow,
Fairbank JC, Pynsent PB 2000, Spine 25:2940-2952; mean moved and stretched to 0-100, Franchignoni F et al. 2014,
JOSPT 44(1):30-39; mean of the activities named, Stratford P et al. 1995, Physiother Can 47:258-263.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

ScoringName = Literal["single", "sum", "mean", "percent_of_answered", "scaled_mean"]


@dataclass(frozen=True, slots=True)
class Structure:
    """`items` numbers from `minimum` to `maximum`, of which `answered` at least must be there."""

    scoring: ScoringName
    items: int
    minimum: float
    maximum: float
    answered: int

    def __post_init__(self) -> None:
        if not self.minimum < self.maximum:
            raise ValueError(f"the items' range {self.minimum} .. {self.maximum} is empty")
        if not 1 <= self.answered <= self.items:
            raise ValueError(f"{self.answered} of {self.items} items cannot be the fewest to answer")
        if self.scoring in {"single", "sum"} and self.answered != self.items:
            raise ValueError("a single number or a sum needs every item")
        if self.scoring == "percent_of_answered" and self.minimum != 0:
            raise ValueError("a percent of the most needs items that start at 0")


class ItemProblem(ValueError):
    """Items that give no value. `code`: too_many, not_a_number, out_of_range, too_few; `item` counts from 1, 0 for all."""

    def __init__(self, code: str, item: int, observed: float) -> None:
        super().__init__(f"{code} at item {item}: {observed}")
        self.code, self.item, self.observed = code, item, observed


def problems(structure: Structure, values: Sequence[float | None]) -> list[ItemProblem]:
    """Everything that is wrong with the items; empty when they give a value. None is a missing item."""
    if len(values) > structure.items:
        return [ItemProblem("too_many", 0, len(values))]
    found = [
        ItemProblem("out_of_range" if math.isfinite(value) else "not_a_number", number, value)
        for number, value in enumerate(values, start=1)
        if value is not None and not structure.minimum <= value <= structure.maximum
    ]
    answered = sum(value is not None for value in values)
    if not found and answered < structure.answered:
        return [ItemProblem("too_few", 0, answered)]
    return found


def score(structure: Structure, values: Sequence[float | None]) -> float:
    """The value. ItemProblem for the first thing that is wrong."""
    wrong = problems(structure, values)
    if wrong:
        raise wrong[0]
    given = [value for value in values if value is not None]
    total = math.fsum(given)
    match structure.scoring:
        case "single" | "sum":
            return total
        case "mean":
            return total / len(given)
        case "percent_of_answered":
            return 100 * total / (structure.maximum * len(given))
        case "scaled_mean":
            return 100 * (total / len(given) - structure.minimum) / (structure.maximum - structure.minimum)


def value_range(structure: Structure) -> tuple[float, float]:
    """The lowest and the highest value there can be."""
    low, high = [structure.minimum] * structure.items, [structure.maximum] * structure.items
    return score(structure, low), score(structure, high)
