"""The way down from the kick-off to maintenance, as phases that never ask for more than the one before.

A program is front-loaded and then scaled back (common practice, no source). First the sessions of a day come down to those
of maintenance, then the days of a week: nobody is asked to do on four days what two a day had made a habit of.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Literal, get_args

from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan, TimeName, WeekdayName

Shape = Literal["step", "linear", "halving"]
SHAPES: tuple[Shape, ...] = get_args(Shape)
MOST_WEEKS = 24
Rung = tuple[int, int]   # sessions a day, days a week


class NoWayDown(ValueError):
    """No taper lies between two phases. `code`: rises (maintenance asks for more), nothing_between, or weeks."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def taper(shape: Shape, before: PhasePlan, after: PhasePlan, weeks: int) -> tuple[PhasePlan, ...]:
    """Taper phases of `weeks` weeks together (fewer when the way is shorter) between `before` and `after`.

    step: half-way, all the time. linear: a little less each week. halving: half as often, step after step, each as long as
    the weeks allow evenly. Weeks alike are one phase. NoWayDown says why there is none.
    """
    if not 1 <= weeks <= MOST_WEEKS:
        raise NoWayDown("weeks")
    start, goal = (before.sessions.full, before.days_per_week), (after.sessions.full, after.days_per_week)
    if goal[0] > start[0] or goal[1] > start[1] or after.sessions.minimum > before.sessions.minimum:
        raise NoWayDown("rises")
    between = list(_ladder(start, goal))
    if not between:
        raise NoWayDown("nothing_between")
    rungs = [_rung(between, target) for target in _targets(shape, start[0] * start[1], goal[0] * goal[1], weeks)]
    return tuple(
        _phase(rung, 7 * len(list(same)), before, after) for rung, same in groupby(rungs)
    )


def _ladder(start: Rung, goal: Rung) -> Iterator[Rung]:
    """Every rung between, both ends left out, going down: sessions of a day first, then days."""
    sessions, days = start
    while sessions > goal[0]:
        sessions -= 1
        if (sessions, days) != goal:
            yield sessions, days
    while days > goal[1] + 1:
        days -= 1
        yield sessions, days


def _rung(between: list[Rung], target: int) -> Rung:
    """The first rung that asks for no more than `target` sessions a week; the lowest when all ask for more."""
    return next((rung for rung in between if rung[0] * rung[1] <= target), between[-1])


def _targets(shape: Shape, start: int, goal: int, weeks: int) -> list[int]:
    """Sessions a week of each week, never rising."""
    match shape:
        case "step":
            return [-(-(start + goal) // 2)] * weeks
        case "linear":
            # rounded to the nearest, a half up, in whole numbers
            return [(2 * (start * (weeks + 1) - (start - goal) * week) + weeks + 1) // (2 * (weeks + 1))
                    for week in range(1, weeks + 1)]
        case "halving":
            halves: list[int] = []
            asked = -(-start // 2)
            while asked > goal and len(halves) < weeks:
                halves.append(asked)
                asked = -(-asked // 2)
            halves = halves or [goal]
            each, more = divmod(weeks, len(halves))
            return [half for place, half in enumerate(halves) for _ in range(each + (place < more))]


def _phase(rung: Rung, days: int, before: PhasePlan, after: PhasePlan) -> PhasePlan:
    sessions, week = rung
    least = min(before.sessions.minimum, sessions)
    weekdays: tuple[WeekdayName, ...] = ()
    if week == before.days_per_week:
        weekdays = before.weekdays
    times: tuple[TimeName, ...] = before.times if len(before.times) == sessions else ()
    if sessions == after.sessions.full:
        least, times = min(least, max(after.sessions.minimum, 1)), times or after.times
    return PhasePlan("taper", days, Span(least, sessions), week, "by_date", weekdays, times)
