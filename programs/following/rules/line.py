"""A straight line through points, and a mean, each with its interval: for comparing many programs with one another.

Least squares as in any textbook; checked against certified values of the NIST Statistical Reference Datasets (Norris).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from programs.following.rules.intervals import Z_95


@dataclass(frozen=True, slots=True)
class Line:
    """Change of y for one step of x with its standard error and 95 % limits, and the height at x = 0."""

    slope: float
    error: float
    low: float
    high: float
    height: float
    points: int


def t_95(freedom: int) -> float:
    """The 97.5 % point of Student's t: Abramowitz M, Stegun IA 1964, Handbook of Mathematical Functions, 26.7.5.

    Within 0.005 of the exact value from 5 degrees of freedom on. ValueError below that: too few to say anything.
    """
    if freedom < 5:
        raise ValueError(f"an interval needs 5 degrees of freedom, not {freedom}")
    z = Z_95
    terms = (
        (z**3 + z) / 4, (5 * z**5 + 16 * z**3 + 3 * z) / 96, (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + sum(term / freedom**power for power, term in enumerate(terms, start=1))


def least_squares(points: Sequence[tuple[float, float]]) -> Line | None:
    """The line through (x, y); None with fewer than seven points, or where all have the same x."""
    count = len(points)
    if count < 7:
        return None
    middle_x, middle_y = sum(x for x, _ in points) / count, sum(y for _, y in points) / count
    spread = sum((x - middle_x) ** 2 for x, _ in points)
    if not spread:
        return None
    slope = sum((x - middle_x) * (y - middle_y) for x, y in points) / spread
    left = sum((y - middle_y - slope * (x - middle_x)) ** 2 for x, y in points)
    error = sqrt(left / (count - 2) / spread)
    reach = t_95(count - 2) * error
    return Line(slope, error, slope - reach, slope + reach, middle_y - slope * middle_x, count)


def mean_interval(values: Sequence[float]) -> tuple[float, float, float] | None:
    """(mean, lower, upper 95 % limit) of shares 0-1, the limits held inside 0-1; None with fewer than six values."""
    count = len(values)
    if count < 6:
        return None
    mean = sum(values) / count
    reach = t_95(count - 1) * sqrt(sum((value - mean) ** 2 for value in values) / (count - 1) / count)
    return mean, max(0.0, mean - reach), min(1.0, mean + reach)
