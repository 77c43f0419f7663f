"""A dose held against published ranges.

Nothing here forbids: a finding says what is under, within or over a range, and where the range is from. Seconds and sets are
those of one side; a dose that alternates sides gives each side half.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Literal

from programs.library.rules.dose import Continuous, Dose, End, Hold, Reps, Roll, Span

Code = Literal["under", "within", "over"]
GARBER = "Garber CE et al. 2011, Med Sci Sports Exerc 43(7):1334-1359"
GARBER_TABLE = f"{GARBER}, table (from memory)"
BEHM = "Behm DG et al. 2020, J Strength Cond Res 34(11):3301-3308"
WHO = "Bull FC et al. 2020 (WHO), Br J Sports Med 54:1451-1462"
RATAMESS = "Ratamess NA et al. (ACSM) 2009, Med Sci Sports Exerc 41(3):687-708"


@dataclass(frozen=True, slots=True)
class Range:
    """A published range; `high` None where no upper limit is given."""

    low: float
    high: float | None
    unit: str
    source: str


STRETCH_TOTAL = Range(60, None, "seconds", GARBER)              # an exercise and day
STRETCH_HOLD = Range(10, 30, "seconds", GARBER)                 # most adults
STRETCH_HOLD_OLDER = Range(30, 60, "seconds", GARBER)        # older adults
STRETCH_HOLDS = Range(2, 4, "repetitions", GARBER)
STRETCH_DAYS = Range(2, 7, "days a week", GARBER)               # daily is best
ROLL_SETS = Range(1, 3, "sets", BEHM)
ROLL_SECONDS = Range(30, 120, "seconds a set", BEHM)
ROLL_PASS = Range(2, 4, "seconds a stroke", BEHM)
STRENGTH_DAYS = Range(2, 3, "days a week", GARBER)
STRENGTH_SETS = Range(2, 4, "sets", GARBER_TABLE)
STRENGTH_REPS = Range(8, 12, "repetitions", GARBER_TABLE)
BALANCE_DAYS = Range(2, 3, "days a week", GARBER)
AEROBIC_WEEK = Range(150, 300, "minutes a week", WHO)           # moderate effort
VIGOROUS_COUNTS = 2                                             # a vigorous minute stands for two moderate ones: WHO
LOAD_STEP = Range(2, 10, "per cent", RATAMESS)                  # once one or two repetitions above the target are possible
ROLL_SPEED = 2.5                                                # centimetres a second: common practice, no source


@dataclass(frozen=True, slots=True)
class Finding:
    """One number of a dose against one range.

    `what` is a code: total, hold, holds, sets, seconds, stroke, reps, days, week or step.
    """

    code: Code
    what: str
    observed: float
    low: float
    high: float | None
    unit: str
    source: str


def check(
    kind: str, side: str, dose: Dose, rounds: Span, sessions: Span, days_per_week: int, end: End = "full", *,
    older: bool = False,
) -> list[Finding]:
    """Every number of a dose that has a published range, at one end of its ranges.

    `kind` is a code of library.vocab.Kind; `sessions` are those of a day; `older` takes the range of older adults where there
    is one. Empty for a kind without published ranges.
    """
    share = 0.5 if side == "alternating" else 1.0
    found: Iterator[Finding] = iter(())
    match kind, dose:
        case "static_stretch", Hold():
            found = _stretch(dose, rounds.at(end), sessions.at(end), days_per_week, share, end, older)
        case "rolling", Roll():
            found = _rolling(dose, rounds.at(end), end)
        case "strength", _:
            found = _strength(dose, rounds.at(end), days_per_week, share, end)
        case "balance", _:
            found = iter([_held("days", days_per_week, BALANCE_DAYS)])
        case "aerobic", Continuous():
            week = dose.minutes.at(end) * rounds.at(end) * sessions.at(end) * days_per_week
            found = iter([_held("week", week, AEROBIC_WEEK)])
    return list(found)


def _held(what: str, observed: float, limits: Range) -> Finding:
    code: Code = "within"
    if observed < limits.low:
        code = "under"
    elif limits.high is not None and observed > limits.high:
        code = "over"
    return Finding(code, what, observed, limits.low, limits.high, limits.unit, limits.source)


def _stretch(
    dose: Hold, rounds: int, sessions: int, days: int, share: float, end: End, older: bool
) -> Iterator[Finding]:
    holds, seconds = dose.holds.at(end) * rounds * share, dose.seconds.at(end)
    yield _held("total", holds * seconds * sessions, STRETCH_TOTAL)
    yield _held("hold", seconds, STRETCH_HOLD_OLDER if older else STRETCH_HOLD)
    yield _held("holds", holds, STRETCH_HOLDS)
    yield _held("days", days, STRETCH_DAYS)


def _rolling(dose: Roll, rounds: int, end: End) -> Iterator[Finding]:
    yield _held("sets", dose.sets.at(end) * rounds, ROLL_SETS)
    yield _held("seconds", dose.seconds.at(end), ROLL_SECONDS)
    yield _held("stroke", dose.pass_seconds, ROLL_PASS)


def _strength(dose: Dose, rounds: int, days: int, share: float, end: End) -> Iterator[Finding]:
    if isinstance(dose, Reps):
        yield _held("sets", dose.sets.at(end) * rounds, STRENGTH_SETS)
        yield _held("reps", dose.reps.at(end) * share, STRENGTH_REPS)
    yield _held("days", days, STRENGTH_DAYS)


def holds_needed(seconds: int, total: int = int(STRETCH_TOTAL.low)) -> int:
    """How many holds of `seconds` make up `total` seconds."""
    return ceil(total / seconds)


def strokes(dose: Roll, end: End) -> float:
    """One-way strokes in a set."""
    return dose.seconds.at(end) / dose.pass_seconds


def load_step(before: float, after: float) -> Finding:
    """An increase of load, in per cent of the load before, against the published step. ValueError for a load not above 0.

    A light load can be raised only in coarse steps: the finding then says "over", and the clinician decides.
    """
    if not before > 0 or not after > 0:
        raise ValueError(f"a load must be above 0, not {before!r} and {after!r}")
    return _held("step", round((after - before) / before * 100, 6), LOAD_STEP)


def next_loads(load: float) -> tuple[float, float]:
    """The least and the most that the published step allows next, in the unit of `load`."""
    return load * (100 + LOAD_STEP.low) / 100, load * (100 + (LOAD_STEP.high or 0)) / 100


def active_week(moderate: float, vigorous: float = 0) -> Finding:
    """Minutes of a week's moderate and vigorous activity, as moderate minutes, against the activity guideline."""
    return _held("week", moderate + VIGOROUS_COUNTS * vigorous, AEROBIC_WEEK)


def pass_seconds(centimetres: float, speed: float = ROLL_SPEED) -> float:
    """How long one slow one-way pass over a length takes."""
    return centimetres / speed
