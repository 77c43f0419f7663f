"""The choice of places as a linear model: a column for each visit and place that was let in, a row for each thing that only
so many can use at once.

Rows: one place for each visit (or none, at the price of leaving it out); of each clinician one visit at a time; of rooms that
serve a need as many visits at a time as are free; of each client as many visits on a day as before. Times count where a visit
can begin: intervals that meet pairwise have the last of their beginnings in common, so that no other moment needs a row.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import highspy
import numpy as np

from clinic.booking.rules import grid as g
from clinic.booking.rules.grid import Array
from clinic.booking.rules.places import Ground, Job

SEED = 1
LIMIT = "time_limit"


class Choice(NamedTuple):
    """Visit number `job` with clinician number `who`, busy from tick `begin` on."""

    job: int
    who: int
    begin: int


@dataclass(frozen=True)
class Shape:
    """The rows. `points` are the ticks that get one; `needs` the distinct sets of rooms; `same_day` is by client."""

    ground: Ground
    jobs: Sequence[Job]
    points: Array
    needs: tuple[tuple[int, ...], ...]
    inside: dict[tuple[int, ...], tuple[int, ...]]
    room_limits: Array
    same_day: dict[int, int]
    client_row: dict[int, int]

    @property
    def clinician_row(self) -> int:
        return len(self.jobs)

    @property
    def room_row(self) -> int:
        return self.clinician_row + len(self.ground.names) * len(self.points)

    @property
    def day_row(self) -> int:
        return self.room_row + len(self.needs) * len(self.points)

    @property
    def meeting_row(self) -> int:
        return self.day_row + len(self.client_row) * len(self.ground.days)

    @property
    def rows(self) -> int:
        return self.meeting_row + len(self.client_row) * len(self.points)


def shape_of(ground: Ground, jobs: Sequence[Job]) -> Shape:
    """The rows that these visits need."""
    kinds = [ground.kind(job) for job in jobs]
    ticks = [each for kind in kinds for each in (kind.begins, kind.starts)]
    points = np.unique(np.concatenate(ticks)) if ticks else np.array([], dtype=int)
    needs = tuple(sorted({job.rooms for job in jobs}))
    free = {name: g.bits(mask, ground.book.grid.length)[points] for name, mask in ground.book.rooms.items()}
    limits = [np.sum([free[name] for name in need], axis=0) if need else np.zeros(len(points)) for need in needs]
    by_client: dict[int, Counter[object]] = defaultdict(Counter)
    for job in jobs:
        by_client[job.client][job.day] += 1
    several = sorted(client for client, days in by_client.items() if days.total() > 1)
    return Shape(
        ground, jobs, points, needs,
        {need: tuple(number for number, other in enumerate(needs) if set(need) <= set(other)) for need in needs},
        np.array(limits).reshape(len(needs), len(points)), {client: max(by_client[client].values()) for client in several},
        {client: number for number, client in enumerate(several)},
    )


def rows_of(shape: Shape, choice: Choice) -> list[int]:
    """The rows that a column stands in, each once."""
    job, count = shape.jobs[choice.job], len(shape.points)
    start = choice.begin + job.length.before
    low, high = np.searchsorted(shape.points, (choice.begin, choice.begin + job.length.whole)).tolist()
    found = [choice.job]
    base = shape.clinician_row + choice.who * count
    found += range(base + low, base + high)
    for need in shape.inside[job.rooms]:
        base = shape.room_row + need * count
        found += range(base + low, base + high)
    if job.client in shape.client_row:
        number = shape.client_row[job.client]
        found.append(shape.day_row + number * len(shape.ground.days) + int(shape.ground.day_of[start]))
        low, high = np.searchsorted(shape.points, (start, start + job.length.during)).tolist()
        base = shape.meeting_row + number * count
        found += range(base + low, base + high)
    return found


def limits_of(shape: Shape) -> Array:
    """How many may stand in each row."""
    days = [shape.same_day[client] for client in shape.client_row for _ in shape.ground.days]
    return np.concatenate([
        np.ones(shape.room_row), shape.room_limits.ravel(), np.array(days, dtype=float),
        np.ones(shape.rows - shape.meeting_row),
    ])


def new_model(shape: Shape) -> highspy.Highs:
    """The rows, and for each visit the column that leaves it out."""
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("threads", 1)
    model.setOptionValue("random_seed", SEED)
    count, upper = len(shape.jobs), limits_of(shape)
    lower = np.full(shape.rows, -highspy.kHighsInf)
    lower[:count] = 1
    empty = np.array([], dtype=np.int32)
    model.addRows(shape.rows, lower, upper, 0, np.zeros(shape.rows, dtype=np.int32), empty, np.array([]))
    model.addCols(
        count, np.full(count, float(shape.ground.book.left_out)), np.zeros(count), np.ones(count), count,
        np.arange(count, dtype=np.int32), np.arange(count, dtype=np.int32), np.ones(count),
    )
    return model


def add(model: highspy.Highs, shape: Shape, choices: Iterable[Choice], cost: Sequence[Array]) -> None:
    """Let columns in."""
    begins, index, price = [0], [], []
    for choice in choices:
        index += rows_of(shape, choice)
        begins.append(len(index))
        job = shape.jobs[choice.job]
        column = np.searchsorted(shape.ground.kind(job).begins, choice.begin)
        price.append(float(cost[choice.job][choice.who, column]))
    count = len(price)
    model.addCols(
        count, np.array(price), np.zeros(count), np.full(count, highspy.kHighsInf), len(index),
        np.array(begins[:-1], dtype=np.int32), np.array(index, dtype=np.int32), np.ones(len(index)),
    )


def reduced(shape: Shape, duals: Array, number: int, cost: Array) -> Array:
    """What each place of a visit would cost beside what its rows are worth; infinite where it cannot be."""
    job, count = shape.jobs[number], len(shape.points)
    kind = shape.ground.kind(job)
    low = np.searchsorted(shape.points, kind.begins)
    high = np.searchsorted(shape.points, kind.begins + job.length.whole)
    by_who = _running(duals[shape.clinician_row:shape.room_row].reshape(len(shape.ground.names), count))
    worth = by_who[:, high] - by_who[:, low]
    for need in shape.inside[job.rooms]:
        base = shape.room_row + need * count
        room = _running(duals[None, base:base + count])
        worth = worth + room[:, high] - room[:, low]
    if job.client in shape.client_row:
        place = shape.client_row[job.client]
        base = shape.day_row + place * len(shape.ground.days)
        worth = worth + duals[base + shape.ground.day_of[kind.starts]][None, :]
        base = shape.meeting_row + place * count
        own = _running(duals[None, base:base + count])
        until = np.searchsorted(shape.points, kind.starts + job.length.during)
        worth = worth + own[:, until] - own[:, np.searchsorted(shape.points, kind.starts)]
    return np.where(cost >= 0, cost - worth - duals[number], np.inf)


def _running(values: Array) -> Array:
    return np.hstack([np.zeros((len(values), 1)), np.cumsum(values, axis=1)])
