"""Is it going up or down: a slope that one odd day cannot tilt, and a moving average for a shift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import sqrt
from statistics import mean, median, stdev

from programs.following.rules.intervals import Z_95

# common practice, no source: a week to know where somebody stands, three answers to see a change
BASELINE, AFTER = 7, 3
LEAST_SIGMA = 0.5   # points of 10


@dataclass(frozen=True, slots=True)
class Slope:
    """Change of y for one step of x, with the limits of its interval."""

    value: float
    low: float
    high: float
    points: int


def theil_sen(points: Sequence[tuple[float, float]], z: float = Z_95) -> Slope | None:
    """The median of the slopes between all pairs, with limits from the ranks of those slopes.

    Theil H 1950; Sen PK 1968, J Am Stat Assoc 63:1379-1389. Ties in x and y lower the variance of the rank statistic as
    in Kendall's S; pairs with equal x have no slope. None below two different x.
    """
    slopes = sorted((yb - ya) / (xb - xa) for (xa, ya), (xb, yb) in combinations(points, 2) if xa != xb)
    if not slopes:
        return None
    reach = z * sqrt(_variance(points))
    lower = max(round((len(slopes) - reach) / 2) - 1, 0)
    upper = min(round((len(slopes) + reach) / 2), len(slopes) - 1)
    return Slope(median(slopes), slopes[lower], slopes[upper], len(points))


def _variance(points: Sequence[tuple[float, float]]) -> float:
    """Variance of the number of concordant minus discordant pairs, corrected for ties."""
    n = len(points)
    total = n * (n - 1) * (2 * n + 5)
    for axis in (0, 1):
        values = [point[axis] for point in points]
        for repeats in (values.count(value) for value in set(values)):
            total -= repeats * (repeats - 1) * (2 * repeats + 5)
    return max(total, 0) / 18


def ewma(values: Sequence[float], start: float, weight: float = 0.3) -> list[float]:
    """Exponentially weighted moving average: `start` first, then one number per value.

    Roberts SW 1959, Technometrics 1:239-250; `weight` between 0 and 1 is what the newest value counts.
    """
    if not 0 < weight <= 1:
        raise ValueError(f"weight must be above 0 and at most 1, not {weight}")
    line = [start]
    for value in values:
        line.append(weight * value + (1 - weight) * line[-1])
    return line


def ewma_limits(centre: float, sigma: float, weight: float = 0.3, width: float = 3.0) -> tuple[float, float]:
    """Lower and upper limit of an EWMA chart once it has settled: centre -/+ width x sigma x sqrt(w / (2 - w)).

    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    """
    reach = width * sigma * sqrt(weight / (2 - weight))
    return centre - reach, centre + reach


def shift(values: Sequence[float], centre: float, sigma: float, weight: float = 0.3) -> int:
    """1 when the moving average of the values now lies above the chart's upper limit, -1 below the lower one, else 0."""
    low, high = ewma_limits(centre, sigma, weight)
    last = ewma(values, centre, weight)[-1]
    return int(last > high) - int(last < low)


def shift_since_start(values: Sequence[float]) -> int | None:
    """`shift` of what came after the first BASELINE answers against those; None with fewer than BASELINE + AFTER of them.

    Answers are whole numbers, so that a spread below LEAST_SIGMA says nothing of how far they can wander.
    """
    if len(values) < BASELINE + AFTER:
        return None
    first, rest = values[:BASELINE], values[BASELINE:]
    return shift(rest, mean(first), max(stdev(first), LEAST_SIGMA))
