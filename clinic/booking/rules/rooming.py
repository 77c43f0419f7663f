"""Gives each placed visit a room of its own, and makes the rooms part of the choice on days where counting was not enough."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

import highspy
import numpy as np

from clinic.booking.rules import grid as g
from clinic.booking.rules import linear
from clinic.booking.rules.linear import Choice, Shape
from clinic.booking.rules.places import Job

Slot = tuple[int, int]   # job number, begin
HALF = 0.5
WITHIN_ONE = 0.999       # costs are whole points: nothing lies between
CLOSER = 3               # how much nearer to the bound the counted choice comes, since giving out rooms may cost something


class Rooms:
    """The rooms of the book, and the days spelled out so far."""

    def __init__(self, shape: Shape) -> None:
        self.shape = shape
        self.days: set[int] = set()
        self._runs: dict[tuple[int, int], int] = {}

    def fits(self, name: int, job: Job, begin: int) -> bool:
        """Whether a room is free for the whole of a visit."""
        key = (name, job.length.whole)
        if key not in self._runs:
            self._runs[key] = g.free_runs(self.shape.ground.book.rooms[name], job.length.whole)
        return bool(self._runs[key] >> begin & 1)

    def spell_out(self, days: Iterable[int]) -> None:
        """From now on each visit has a column for each room on those days."""
        self.days |= set(days)

    def solve(
        self, model: highspy.Highs, choices: Sequence[Choice], within: float, least: int, seconds: float,
        kept: Sequence[int] = (),
    ) -> tuple[list[Choice], bool]:
        """The best whole choice of the columns in `model`, and whether the search for it came to its end. The columns `kept`
        are part of it, but for those on days spelled out."""
        whole = highspy.Highs()
        whole.passModel(model.getLp())
        for name, value in {
            "output_flag": False, "threads": 1, "random_seed": linear.SEED, linear.LIMIT: seconds,
            "mip_rel_gap": within / CLOSER, "mip_abs_gap": WITHIN_ONE,
            "objective_target": least * (1 + within / CLOSER) + HALF,
        }.items():
            whole.setOptionValue(name, value)
        keep(whole, self._settled(choices, kept))
        spelled = [choice for choice in choices if self._day(choice) in self.days]
        add_rooms(whole, self, spelled, {choice: len(self.shape.jobs) + at for at, choice in enumerate(choices)})
        all_whole(whole)
        whole.run()
        values = whole.getSolution().col_value
        status = whole.getModelStatus()
        ended = status in (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kObjectiveTarget)
        first = len(self.shape.jobs)
        if not whole.getSolution().value_valid:
            return [], False
        return [choice for at, choice in enumerate(choices) if values[first + at] > HALF], ended

    def _settled(self, choices: Sequence[Choice], kept: Sequence[int]) -> dict[int, bool]:
        """By column of a visit that is kept, whether it is the one."""
        first = len(self.shape.jobs)
        jobs = [*range(first), *(choice.job for choice in choices)]
        days = [-1] * first + [self._day(choice) for choice in choices]
        ones = {jobs[column]: column for column in kept if days[column] not in self.days}
        return {column: ones[job] == column for column, job in enumerate(jobs) if job in ones}

    def give(self, chosen: Iterable[Choice]) -> tuple[dict[int, int], set[int]]:
        """Rooms by job number for as many of the chosen visits as can have one, and the days on which not all can."""
        by_day: dict[int, list[Choice]] = defaultdict(list)
        for choice in chosen:
            by_day[self._day(choice)].append(choice)
        given: dict[int, int] = {}
        stuck = set()
        for day, visits in by_day.items():
            found = in_turn(self, visits) or searched(self, visits)
            given |= found
            if len(found) < len(visits):
                stuck.add(day)
        return given, stuck

    def _day(self, choice: Choice) -> int:
        return int(self.shape.ground.day_of[choice.begin + self.shape.jobs[choice.job].length.before])


def in_turn(rooms: Rooms, visits: Sequence[Choice]) -> dict[int, int] | None:
    """The first free room for each visit as they begin; None when that does not come out."""
    taken: dict[int, int] = {}
    given = {}
    for choice in sorted(visits, key=lambda choice: (choice.begin, choice.job)):
        job = rooms.shape.jobs[choice.job]
        free = (
            name for name in job.rooms if taken.get(name, 0) <= choice.begin and rooms.fits(name, job, choice.begin)
        )
        room = next(free, None)
        if room is None:
            return None
        given[choice.job], taken[room] = room, choice.begin + job.length.whole
    return given


def searched(rooms: Rooms, visits: Sequence[Choice]) -> dict[int, int]:
    """Rooms for as many of the visits as possible."""
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("threads", 1)
    count = len(visits)
    model.addVars(count, np.zeros(count), np.ones(count))
    model.changeColsCost(count, np.arange(count, dtype=np.int32), -np.ones(count))
    slots = add_rooms(model, rooms, visits, {choice: at for at, choice in enumerate(visits)})
    all_whole(model)
    model.run()
    values = model.getSolution().col_value
    return {slot[0]: room for at, (slot, room) in enumerate(slots) if values[count + at] > HALF}


def keep(model: highspy.Highs, settled: dict[int, bool]) -> None:
    """From now on those columns are part of the choice, or are not."""
    if settled:
        columns, values = np.array(list(settled), dtype=np.int32), np.array(list(settled.values()), dtype=float)
        model.changeColsBounds(len(columns), columns, values, values)


def all_whole(model: highspy.Highs) -> None:
    """From now on every column is a whole number."""
    count = model.getNumCol()
    model.changeColsIntegrality(
        count, np.arange(count, dtype=np.int32), np.array([highspy.HighsVarType.kInteger] * count)
    )


def add_rooms(
    model: highspy.Highs, rooms: Rooms, choices: Sequence[Choice], columns: dict[Choice, int]
) -> list[tuple[Slot, int]]:
    """A column for each visit, begin and room: as many of a slot's as of its places are chosen, of a room one at a time."""
    by_slot: dict[Slot, list[int]] = defaultdict(list)
    for choice in choices:
        by_slot[choice.job, choice.begin].append(columns[choice])
    slots: list[tuple[Slot, int]] = []
    holding: dict[tuple[int, int], list[int]] = defaultdict(list)
    begins = sorted({begin for _, begin in by_slot})
    for (number, begin), chosen in by_slot.items():
        job, mine = rooms.shape.jobs[number], []
        for name in job.rooms:
            if not rooms.fits(name, job, begin):
                continue
            column = model.getNumCol()
            model.addVar(0.0, 1.0)
            slots.append(((number, begin), name))
            mine.append(column)
            for point in begins:
                if begin <= point < begin + job.length.whole:
                    holding[name, point].append(column)
        index = np.array([*chosen, *mine], dtype=np.int32)
        model.addRow(0.0, 0.0, len(index), index, np.array([1.0] * len(chosen) + [-1.0] * len(mine)))
    for held in holding.values():
        if len(held) > 1:
            model.addRow(-highspy.kHighsInf, 1.0, len(held), np.array(held, dtype=np.int32), np.ones(len(held)))
    return slots
