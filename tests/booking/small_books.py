"""Small random books and visits without a place, and a search through every choice there is."""

from __future__ import annotations

import random
from collections import Counter
from datetime import date, time, timedelta

from clinic.booking.rules import grid as g
from clinic.booking.rules import places
from clinic.booking.rules.openings import Length
from clinic.people.rules import zones

MONDAY = date(2026, 3, 2)
ZONE = "Europe/London"


def book(dice: random.Random, *, clinicians: int, rooms: int, days: int, filled: float, closed=(), first=MONDAY):
    """Clinicians 0…, rooms 100…; Monday to Friday from nine, half hours taken at random."""
    grid = g.days_grid(first, first + timedelta(days=days - 1), ZONE)
    free_rooms = {100 + number: grid.full for number in range(rooms)}
    free = dict.fromkeys(range(clinicians), 0)
    for number in range(days):
        day = first + timedelta(days=number)
        if day.weekday() >= 5 or number in closed:
            continue
        begin, end = zones.lenient_instant(day, time(9), ZONE), zones.lenient_instant(day, time(17), ZONE)
        for who in free:
            free[who] |= grid.covered([(begin, end)])
            at = begin
            while at < end:
                taken = grid.touched([(at, at + timedelta(minutes=30))])
                room = next((name for name, mask in free_rooms.items() if mask & taken == taken), None)
                if room is not None and dice.random() < filled:
                    free[who] &= ~taken
                    free_rooms[room] &= ~taken
                at += timedelta(minutes=30)
    return places.Book(grid, ZONE, free, free_rooms, grid.begin, 6)


def jobs(dice: random.Random, of: places.Book, count: int, *, day=MONDAY, span=1):
    """Visits of 30 to 50 minutes that lost their time on `day` or one of the `span` days from it."""
    found = []
    for key in range(count):
        rooms = tuple(sorted(of.rooms))
        window = (day - timedelta(days=3), day + timedelta(days=4)) if dice.random() < 0.3 else (None, None)
        found.append(places.Job(
            key, key if dice.random() < 0.9 else max(key - 1, 0), dice.randrange(len(of.clinicians)),
            day + timedelta(days=dice.randrange(span)), 9 * 60 + 30 * dice.randrange(15),
            Length(0, 6 if dice.random() < 0.7 else 9, int(dice.random() < 0.3)),
            rooms if dice.random() < 0.8 else rooms[: max(len(rooms) // 2, 1)], *window,
        ))
    return found


def least_cost(wanted, of: places.Book) -> int:
    """The least cost of all choices of clinician, time and room, by going through them."""
    ground = places.ground_of(of)
    options = [sorted(_options(ground, job, of)) for job in wanted]
    limits: dict[int, Counter] = {}
    for job in wanted:
        limits.setdefault(job.client, Counter())[job.day] += 1
    cheapest = [each[0][0] if each else of.left_out for each in options]
    best = of.left_out * len(wanted) + 1

    def go(number: int, cost: int, done: list) -> None:
        nonlocal best
        if cost + sum(cheapest[number:]) >= best:
            return
        if number == len(wanted):
            best = cost
            return
        for option in options[number]:
            if cost + option[0] >= best:
                break
            if _fits(ground, wanted, number, option, done, limits):
                go(number + 1, cost + option[0], [*done, (number, option)])
        go(number + 1, cost + of.left_out, done)

    go(0, 0, [])
    return best


def _options(ground, job, of):
    kind, cost = ground.kind(job), places.costs(ground, job)
    for who in range(len(ground.names)):
        for column, begin in enumerate(kind.begins.tolist()):
            if cost[who, column] >= 0:
                for room in job.rooms:
                    if g.free_runs(of.rooms[room], job.length.whole) >> begin & 1:
                        yield int(cost[who, column]), who, room, begin


def _fits(ground, wanted, number, option, done, limits) -> bool:
    job, (_, who, room, begin) = wanted[number], option
    same_day = 0
    for other, (_, other_who, other_room, other_begin) in done:
        beside = wanted[other]
        meet = begin < other_begin + beside.length.whole and other_begin < begin + job.length.whole
        if meet and (who == other_who or room == other_room):
            return False
        if job.client == beside.client:
            start, other_start = begin + job.length.before, other_begin + beside.length.before
            if start < other_start + beside.length.during and other_start < start + job.length.during:
                return False
            same_day += bool(ground.day_of[start] == ground.day_of[other_start])
    return same_day < max(limits[job.client].values())
