"""Rows about outcomes: comparisons of the last value of a measure with its first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

from programs.following.rules.intervals import wilson


@dataclass(frozen=True, slots=True)
class Tally:
    """Comparisons by what they say.

    `improved` beyond the MCID, `better` beyond error only, `same` (no change that can be told from error), `worse` beyond
    error or MCID, `unjudged` for want of published bounds; without a second value: `waiting` in an episode that goes on,
    `missing` in one that has ended.
    """

    improved: int = 0
    better: int = 0
    same: int = 0
    worse: int = 0
    unjudged: int = 0
    waiting: int = 0
    missing: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, field.name) + getattr(other, field.name) for field in fields(self)))

    @property
    def judged(self) -> int:
        return self.improved + self.better + self.same + self.worse

    @property
    def gained(self) -> int:
        """Better beyond the error of measurement, with or without reaching the MCID."""
        return self.improved + self.better

    @property
    def interval(self) -> tuple[float, float] | None:
        """Wilson's 95 % interval of the share that gained; None when nothing could be judged."""
        return wilson(self.gained, self.judged)

    @property
    def whole(self) -> int:
        return self.judged + self.unjudged + self.waiting + self.missing


@dataclass(frozen=True, slots=True)
class OutcomeRow:
    """One measure (its code and name) in the episodes of one region of the body."""

    measure: str
    name: str
    region: str
    tally: Tally


@dataclass(frozen=True, slots=True)
class RegionRow:
    """Episodes of one region: all of them, and those in which nothing was ever measured."""

    region: str
    episodes: int
    unmeasured: int


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Tallies by measure and region, and the episodes behind them, most frequent region first."""

    rows: tuple[OutcomeRow, ...]
    regions: tuple[RegionRow, ...]

    @property
    def measures(self) -> dict[str, str]:
        """Names by code, by name."""
        return {row.measure: row.name for row in self.rows}

    def of(self, measure: str) -> Outcomes:
        """The rows of one measure only."""
        return Outcomes(tuple(row for row in self.rows if row.measure == measure), self.regions)


def total(rows: Iterable[OutcomeRow]) -> Tally:
    """All rows together."""
    return sum((row.tally for row in rows), Tally())


def by_measure(rows: Iterable[OutcomeRow]) -> dict[str, Tally]:
    """Tallies by the measure's name."""
    found: dict[str, Tally] = {}
    for row in rows:
        found[row.name] = found.get(row.name, Tally()) + row.tally
    return found


def by_region(rows: Iterable[OutcomeRow]) -> dict[str, Tally]:
    """Tallies by region."""
    found: dict[str, Tally] = {}
    for row in rows:
        found[row.region] = found.get(row.region, Tally()) + row.tally
    return found
