"""How long people keep going: the share still practising by day, with those who are still at it counted fairly.

Kaplan EL, Meier P 1958, J Am Stat Assoc 53:457-481; variance after Greenwood M 1926, Reports on Public Health and Medical
Subjects 33; interval on the log(-log) scale, so that it stays between 0 and 1 (Kalbfleisch JD, Prentice RL 1980, The
Statistical Analysis of Failure Time Data). What counts as dropping out is ours (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from math import exp, log, sqrt
from operator import attrgetter

from programs.following.rules.adherence import Counted
from programs.following.rules.intervals import Z_95


@dataclass(frozen=True, slots=True)
class Followed:
    """One person: the day (1 is the first) on which they dropped out, or the last day seen of one who has not."""

    day: int
    dropped_out: bool


@dataclass(frozen=True, slots=True)
class Step:
    """The share still going from `day` on. `error` is Greenwood's standard error; no interval where all have gone."""

    day: int
    at_risk: int
    dropped_out: int
    share: float
    error: float
    low: float | None
    high: float | None


def kaplan_meier(people: Iterable[Followed], z: float = Z_95) -> tuple[Step, ...]:
    """One step per day on which somebody dropped out, in order. A person last seen that day is still at risk on it.

    ValueError for a day below 1.
    """
    rows = sorted(people, key=lambda row: row.day)
    if rows and rows[0].day < 1:
        raise ValueError(f"the first day is day 1, not {rows[0].day}")
    steps: list[Step] = []
    share, variance, at_risk = 1.0, 0.0, len(rows)
    for day, group in groupby(rows, key=attrgetter("day")):
        last = list(group)
        gone = sum(row.dropped_out for row in last)
        if gone:
            share *= 1 - gone / at_risk
            variance += gone / (at_risk * (at_risk - gone)) if at_risk > gone else 0.0
            steps.append(Step(day, at_risk, gone, share, share * sqrt(variance), *_limits(share, variance, z)))
        at_risk -= len(last)
    return tuple(steps)


def _limits(share: float, variance: float, z: float) -> tuple[float | None, float | None]:
    if share <= 0:
        return None, None
    reach = z * sqrt(variance) / log(share)   # log(share) is below 0
    centre = log(-log(share))
    return exp(-exp(centre - reach)), exp(-exp(centre + reach))


def median_day(steps: Iterable[Step]) -> int | None:
    """The first day on which half or fewer are still going; None while more than half are."""
    return next((step.day for step in steps if step.share <= 0.5), None)


def followed(days: Iterable[Counted], today: date, length: int, lived: int = 0) -> Followed | None:
    """When a person first fell silent for `length` days in a row, or how far they have come without that.

    Days are those of one program, oldest first. The silence begins on the first day that asked for a session and got no
    answer; paused days count neither as silence nor as time. None before the first whole day. `lived` days that were not
    paused lie before the first one given, and no silence reaches from them into it.
    """
    number, begun, silent = lived, 0, 0
    for day in days:
        if day.day >= today or day.state == "paused":
            continue
        number += 1
        if day.logged:
            begun = silent = 0
            continue
        if not begun and day.asked:
            begun = number
        silent += bool(begun)
        if silent >= length:
            return Followed(begun, True)
    return Followed(number, False) if number else None
