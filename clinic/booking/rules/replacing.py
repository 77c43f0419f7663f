"""Finds places for many visits at once at the least cost, and proves it.

A choice of places is a weighted packing of intervals, a mixed-integer program with far more columns than are ever needed. So
it starts from the cheapest places, prices the others with the duals of the relaxed program and lets in those that would help,
until none does (column generation: Gilmore and Gomory 1961, Operations Research 9:849-859). The value of the relaxed program
is then a bound. Whole choices come from HiGHS on the columns let in; every place whose reduced cost could still beat them is
let in as well, so that the last answer is the best of all places, not of the chosen columns (reduced-cost fixing). Where an
answer near the bound is enough, what the relaxed program gave wholly stays as it is and only the rest is searched.

Rooms are counted, then given out one by one; a day on which the count was right but no room fits gets a column for each visit
and room, and all its visits are searched again. All costs are whole points, so that a bound within one point is a proof.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import count

import highspy
import numpy as np

from clinic.booking.rules import linear, places, rooming
from clinic.booking.rules.grid import Array
from clinic.booking.rules.linear import Choice, Shape
from clinic.booking.rules.places import Book, Job

FIRST = 24           # cheapest places of each visit to begin with
A_TURN = 12          # places of each visit let in at most in one turn of pricing
TURNS = 60
MOST_COLUMNS = 250_000
ROUNDS = 8           # of giving out rooms, where an answer near the bound is enough
EPSILON = 1e-6


@dataclass(frozen=True)
class Place:
    """Where a visit goes: clinician and room by key, the tick its busy time begins at, its points and what they are."""

    clinician: int
    room: int
    begin: int
    points: int
    parts: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Answer:
    """Places by key of the visit; `left` says of the others why: `no_room`, `nobody_in`, `all_taken`, `needed_by_others`.

    `cost` counts the left-out ones as well. `bound`: no answer costs less. `proven`: none costs less than this one.
    """

    placed: dict[int, Place]
    left: dict[int, str]
    cost: int
    bound: int
    proven: bool

    @property
    def gap(self) -> float:
        """How far the cost may be above the least possible, as a share of the bound."""
        return (self.cost - self.bound) / self.bound if self.bound else float(self.cost > 0)


def place_all(jobs: Sequence[Job], book: Book, *, within: float = 0.0, seconds: float = 60.0) -> Answer:
    """The cheapest places for all jobs together. Stops early once the cost is `within` of the bound (0: proven best), or,
    each of its steps, after `seconds`; then `proven` is false and `bound` still holds."""
    ground = places.ground_of(book)
    shape = linear.shape_of(ground, jobs)
    cost = [places.costs(ground, job) for job in jobs]
    search = _Search(shape, cost, seconds)
    bound, duals = search.relax()
    least = math.ceil(bound - EPSILON)
    best, ended = search.whole(within, least)
    if best.cost > least * (1 + within) + EPSILON and duals is not None:
        fresh = search.let_in_all(duals, best.cost - 1 - bound)
        if fresh:
            again, ended = search.whole(within, least)
            best = min(best, again, key=lambda each: each.cost)
        least = best.cost if ended and fresh is not None and not within else least
    if best.cost > least:   # the time was over: never worse than the plain way
        best = min(best, _Whole(*in_turn(ground, jobs, cost)), key=lambda each: each.cost)
    least = min(least, best.cost)
    left = {job.key: _why_left(job, cost[number], book) for number, job in enumerate(jobs) if job.key not in best.placed}
    return Answer(best.placed, left, best.cost, least, least == best.cost)


@dataclass(frozen=True)
class _Whole:
    """One whole choice: places by key of the visit, and what it costs with the visits left out."""

    placed: dict[int, Place]
    cost: int


class _Search:
    """The columns let in so far, by visit, and the model that holds them."""

    def __init__(self, shape: Shape, cost: Sequence[Array], seconds: float) -> None:
        self.shape, self.cost, self.seconds = shape, cost, seconds
        self.choices: list[Choice] = []
        self.kept: list[int] = []   # columns that the relaxed program gave wholly
        self.known: list[set[int]] = [set() for _ in cost]
        self.model = linear.new_model(shape)
        self.rooms = rooming.Rooms(shape)
        self._add(self._cheapest())

    def _cheapest(self) -> list[tuple[int, Array]]:
        found = []
        for number, points in enumerate(self.cost):
            flat = np.where(points < 0, np.iinfo(np.int32).max, points).ravel()
            order = np.argsort(flat, kind="stable")[:FIRST]
            found.append((number, order[flat[order] < np.iinfo(np.int32).max]))
        return found

    def _add(self, wanted: Sequence[tuple[int, Array]]) -> int:
        """Let columns in by visit and flat position; how many were new."""
        fresh: list[Choice] = []
        for number, positions in wanted:
            begins = self.shape.ground.kind(self.shape.jobs[number]).begins
            for position in positions.tolist():
                if position in self.known[number]:
                    continue
                self.known[number].add(position)
                who, column = divmod(position, len(begins))
                fresh.append(Choice(number, who, int(begins[column])))
        if fresh:
            linear.add(self.model, self.shape, fresh, self.cost)
            self.choices += fresh
        return len(fresh)

    def relax(self) -> tuple[float, Array | None]:
        """The value of the relaxed program over all places, and its duals; 0 and None when it was not reached in time."""
        if not self.cost:
            return 0.0, None
        for _ in range(TURNS):
            self.model.setOptionValue(linear.LIMIT, self.model.getRunTime() + self.seconds)
            self.model.run()
            if self.model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
                return 0.0, None
            duals = np.array(self.model.getSolution().row_dual)
            wanted = []
            for number, points in enumerate(self.cost):
                flat = linear.reduced(self.shape, duals, number, points).ravel()
                useful = np.flatnonzero(flat < -EPSILON)
                if len(useful) > A_TURN:
                    useful = useful[np.argpartition(flat[useful], A_TURN)[:A_TURN]]
                if len(useful):
                    wanted.append((number, useful))
            if not self._add(wanted):
                self.kept = np.flatnonzero(np.array(self.model.getSolution().col_value) > 1 - EPSILON).tolist()
                return float(self.model.getInfo().objective_function_value), duals
        return 0.0, None

    def let_in_all(self, duals: Array, gap: float) -> int | None:
        """Let in every place that could be part of an answer at most `gap` above the bound; how many. None: too many."""
        wanted, useful_ones = [], 0
        for number, points in enumerate(self.cost):
            flat = linear.reduced(self.shape, duals, number, points).ravel()
            useful = np.flatnonzero(flat <= gap + EPSILON)
            useful_ones += len(useful)
            wanted.append((number, useful))
        if useful_ones > MOST_COLUMNS:
            return None
        return self._add(wanted)

    def whole(self, within: float, least: int) -> tuple[_Whole, bool]:
        """The best whole choice of the columns let in, with a room each, and whether the search came to its end."""
        best: _Whole | None = None
        kept = self.kept if within else []
        for number in count(1):
            chosen, ended = self.rooms.solve(self.model, self.choices, within, least, self.seconds, kept)
            given, stuck = self.rooms.give(chosen)
            found = self._mended(chosen, given)
            best = found if best is None or found.cost < best.cost else best
            if not stuck or best.cost <= least * (1 + within) + EPSILON:
                return best, ended
            if within and number == ROUNDS:
                break
            self.rooms.spell_out(stuck)
            if within:   # only the visits of those days, and those left out, are chosen anew
                taken = set(chosen)
                kept = [len(self.cost) + at for at, choice in enumerate(self.choices) if choice in taken]
        return best or _Whole({}, places.LEFT_OUT * len(self.cost)), False

    def _mended(self, chosen: Sequence[Choice], given: dict[int, int]) -> _Whole:
        """The choice as far as there are rooms, the others placed beside it."""
        placed: dict[int, Place] = {}
        others: list[Job] = []
        taken: dict[int, list[int]] = {}
        for choice in chosen:
            job = self.shape.jobs[choice.job]
            if choice.job not in given:
                others.append(job)
                continue
            placed[job.key] = self._place(choice, given[choice.job])
            taken.setdefault(job.client, []).append(int(self.shape.ground.day_of[choice.begin + job.length.before]))
        cost = sum(place.points for place in placed.values())
        cost += self.shape.ground.book.left_out * (len(self.shape.jobs) - len(chosen))
        if others:
            days = self.shape.ground.days
            rest = place_all(
                [replace(job, not_on=job.not_on | {days[day] for day in taken.get(job.client, [])}) for job in others],
                _without(self.shape, placed), within=0.01, seconds=self.seconds / 4,
            )
            placed, cost = placed | rest.placed, cost + rest.cost
        return _Whole(placed, cost)

    def _place(self, choice: Choice, room: int) -> Place:
        who = self.shape.ground.names[choice.who]
        found = places.parts(self.shape.ground, self.shape.jobs[choice.job], who, choice.begin)
        return Place(who, room, choice.begin, places.points_of(found), found)


def _without(shape: Shape, placed: dict[int, Place]) -> Book:
    """The book with those places taken."""
    book = shape.ground.book
    clinicians, rooms = dict(book.clinicians), dict(book.rooms)
    lengths = {job.key: job.length.whole for job in shape.jobs}
    for key, place in placed.items():
        taken = ((1 << lengths[key]) - 1) << place.begin
        clinicians[place.clinician] &= ~taken
        rooms[place.room] &= ~taken
    return replace(book, clinicians=clinicians, rooms=rooms)


def in_turn(ground: places.Ground, jobs: Sequence[Job], cost: Sequence[Array]) -> tuple[dict[int, Place], int]:
    """The plain way: each visit in turn takes the cheapest place that is left. Quick, and dearer; places and cost."""
    book = ground.book
    free, rooms = [book.clinicians[name] for name in ground.names], dict(book.rooms)
    placed: dict[int, Place] = {}
    used: dict[int, set[date]] = {}
    for job, points in zip(jobs, cost, strict=True):
        begins = ground.kind(job).begins
        for at in np.argsort(np.where(points < 0, book.left_out, points), axis=None, kind="stable").tolist():
            who, column = divmod(at, len(begins))
            begin = int(begins[column])
            taken, day = ((1 << job.length.whole) - 1) << begin, ground.days[ground.day_of[begin + job.length.before]]
            if points[who, column] < 0:
                break   # the others are no places either
            if free[who] & taken != taken or day in used.get(job.client, ()):
                continue
            room = next((name for name in job.rooms if rooms[name] & taken == taken), None)
            if room is not None:
                free[who] &= ~taken
                rooms[room] &= ~taken
                used.setdefault(job.client, set()).add(day)
                found = places.parts(ground, job, ground.names[who], begin)
                placed[job.key] = Place(ground.names[who], room, begin, places.points_of(found), found)
                break
    return placed, sum(place.points for place in placed.values()) + book.left_out * (len(jobs) - len(placed))


def _why_left(job: Job, points: Array, book: Book) -> str:
    if not job.rooms:
        return "no_room"
    if not any(mask for name, mask in book.clinicians.items() if job.clinicians is None or name in job.clinicians):
        return "nobody_in"
    return "needed_by_others" if (points >= 0).any() else "all_taken"
