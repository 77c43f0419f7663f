"""Where a value stands against people of the same age and sex, where somebody has published that.

The tables are data (fixtures/norms.json) with their citations. Nothing is carried past the ages a table names: outside of
them the answer is None. A norm describes other people; it is no target and no diagnosis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Literal

Standing = Literal["below_usual", "usual", "above_usual"]
SEXES = ("female", "male", "any")
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Norm:
    """One cell: people of `sex` from `age_from` through `age_to` years. Middle half `low`..`high`, or a mean, or both."""

    measure: str
    sex: str
    age_from: int
    age_to: int
    unit: str
    source: str
    low: float | None = None      # the 25th percentile
    high: float | None = None     # the 75th
    mean: float | None = None
    below: float | None = None    # strictly less is below average, as a screening programme prints it
    bands: bool = False           # low and high are edges in use, not the middle half


def read(data: Mapping[str, Any]) -> tuple[Norm, ...]:
    """Read the stored form: tables with measure, unit, source and cells. ValueError says which cell cannot be used."""
    found: list[Norm] = []
    for table in data["tables"]:
        for index, cell in enumerate(table["cells"]):
            where = f"{table['measure']}.{index}"
            if cell["sex"] not in SEXES:
                raise ValueError(f"{where}.sex: {cell['sex']!r} is none of {', '.join(SEXES)}")
            first, last = cell["ages"]
            if not 0 <= first <= last <= 120:
                raise ValueError(f"{where}.ages: {first} to {last} are no ages")
            if not {"low", "high", "mean", "below"} & set(cell):
                raise ValueError(f"{where}: holds no number")
            if cell.get("low", 0) > cell.get("high", cell.get("low", 0)):
                raise ValueError(f"{where}.low: {cell['low']} is above {cell['high']}")
            numbers = {name: float(cell[name]) for name in ("low", "high", "mean", "below") if name in cell}
            found.append(Norm(
                table["measure"], cell["sex"], first, last, table["unit"], table["source"], **numbers,
                bands=table.get("bands", False),
            ))
    _refuse_overlap(found)
    return tuple(found)


def _refuse_overlap(norms: Sequence[Norm]) -> None:
    for index, norm in enumerate(norms):
        for other in norms[index + 1:]:
            same = norm.measure == other.measure and (norm.sex == other.sex or "any" in {norm.sex, other.sex})
            if same and norm.age_from <= other.age_to and other.age_from <= norm.age_to:
                raise ValueError(f"{norm.measure}: two cells for {norm.sex} of {other.age_from} years")


def norm_for(norms: Sequence[Norm], measure: str, *, sex: str, age: int) -> Norm | None:
    """The cell for that measure, sex and age in whole years; None where nothing was published. One for `any` fits all."""
    return next(
        (
            norm for norm in norms
            if norm.measure == measure and norm.sex in {sex, "any"} and norm.age_from <= age <= norm.age_to
        ),
        None,
    )


def norms_for(norms: Sequence[Norm], measure: str, age: int) -> tuple[Norm, ...]:
    """The cells for that measure and age, one for each sex or one for any; empty where nothing was published."""
    return tuple(
        norm for norm in norms if norm.measure == measure and norm.age_from <= age <= norm.age_to
    )


def percentile(norm: Norm, value: float) -> int | None:
    """Of 100 people of the cell, about how many lie below the value: 1 to 99; None without a middle half.

    Worked out from the quartiles as if values were normally distributed (half of a normal distribution lies within
    0.6745 SD of its mean), so it is a rough place, not a printed one.
    """
    if norm.low is None or norm.high is None or norm.bands or norm.low == norm.high:
        return None
    spread = (norm.high - norm.low) / 2 / NormalDist().inv_cdf(0.75)
    share = NormalDist((norm.low + norm.high) / 2, spread).cdf(value)
    return min(99, max(1, round(100 * share)))


def standing(norm: Norm, value: float) -> Standing | None:
    """Below, within or above the middle half; both ends belong to it. None when the table holds no middle half."""
    if norm.low is None or norm.high is None:
        return None
    if value < norm.low - _ROUNDING:
        return "below_usual"
    return "above_usual" if value > norm.high + _ROUNDING else "usual"


def below_average(norm: Norm, value: float) -> bool | None:
    """Whether a screening programme calls it below average: strictly less than its number. None when it has none."""
    return None if norm.below is None else value < norm.below - _ROUNDING


def from_mean(norm: Norm, value: float) -> float | None:
    """The value minus the published mean, in the table's unit; None when there is no mean."""
    return None if norm.mean is None else value - norm.mean
