"""The search for openings on 20 clinicians, 12 rooms and 60 days, from what is free to the twenty best.

Yardstick: walking intervals. It looks at every quarter of an hour (and at every time flush with what is before) in each gap
of each clinician, and for a room and the client by bisection in sorted intervals. Plain, and without waste; its openings are
the same ones. Each gets its own picture of free time: masks, or sorted gaps. A second line adds making those from spans.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from datetime import UTC, date, datetime, time, timedelta

from clinic.booking.rules import grid as g
from clinic.booking.rules import openings as rules
from clinic.people.rules import zones
from tests.benchmarks.common import Measured, quickest

SETTING = "plain"
CLINICIANS, ROOMS, DAYS = 20, 12, 60
FIRST, ZONE = date(2026, 3, 2), "Europe/London"
LIMIT = 20
WISH = rules.Wish(FIRST + timedelta(days=10), FIRST + timedelta(days=20), 3, (time(9), time(12)))
LENGTH = rules.Length(0, 6, 1)
NOW = datetime(2026, 3, 2, 9, 40, tzinfo=UTC)


def practice(dice: random.Random):
    """Open hours by clinician, and taken spans by clinician, room and the one client: about 60 % of the hours are booked."""
    hours = {who: [] for who in range(CLINICIANS)}
    taken = {who: [] for who in range(CLINICIANS)}
    rooms = {name: [] for name in range(ROOMS)}
    for day in (FIRST + timedelta(days=number) for number in range(DAYS)):
        if day.weekday() >= 5:
            continue
        for who in hours:
            begin, end = zones.lenient_instant(day, time(9), ZONE), zones.lenient_instant(day, time(17), ZONE)
            hours[who].append((begin, end))
            at = begin
            while at < end:
                until = at + timedelta(minutes=dice.choice((25, 30, 35, 50)))
                if dice.random() < 0.6 and until <= end:
                    taken[who].append((at, until))
                    room = next((name for name in rooms if not rooms[name] or rooms[name][-1][1] <= at), None)
                    if room is not None:
                        rooms[room].append((at, until))
                at = until + timedelta(minutes=dice.choice((0, 0, 5)))
    client = taken[0][::40]
    return hours, taken, {name: sorted(spans) for name, spans in rooms.items()}, client


def masks(grid, hours, taken, rooms, client):
    """Free time as masks."""
    free = {who: grid.covered(hours[who]) & ~grid.touched(taken[who]) for who in hours}
    return free, {name: grid.full & ~grid.touched(spans) for name, spans in rooms.items()}, grid.full & ~grid.touched(client)


def by_mask(grid, free, rooms, client):
    """The project's way."""
    found = rules.find(grid, LENGTH, free, rooms, client, not_before=NOW, shortest=6, zone=ZONE)
    return found, rules.best(found, WISH, LIMIT)


def gaps(hours, taken):
    """What is left of sorted open spans between sorted taken ones."""
    for begin, end in hours:
        at = begin
        for start, stop in taken[max(bisect_right(taken, (begin,)) - 1, 0):]:
            if start >= end:
                break
            if at < start:
                yield at, start
            at = max(at, stop)
        if at < end:
            yield at, end


def free_between(spans, begin, end) -> bool:
    """Whether sorted spans leave begin..end alone."""
    at = bisect_right(spans, (begin, end))
    return (at == 0 or spans[at - 1][1] <= begin) and (at == len(spans) or spans[at][0] >= end)


def intervals(hours, taken, client):
    """Free time as sorted gaps by clinician; rooms stay as they are, sorted."""
    return {who: list(gaps(hours[who], sorted(taken[who]))) for who in hours}, sorted(client)


def by_intervals(free, rooms, client):
    """The yardstick."""
    whole, during = timedelta(minutes=5 * LENGTH.whole), timedelta(minutes=5 * LENGTH.during)
    quarter, tick = timedelta(minutes=15), timedelta(minutes=5)
    shortest = 6 * tick
    place = zones.zone(ZONE)
    found = []
    for who, spans in free.items():
        for begin, end in spans:
            at = begin
            while at + whole <= end:
                if at >= NOW and free_between(client, at, at + during):
                    room = next((name for name, spans in rooms.items() if free_between(spans, at, at + whole)), None)
                    if room is not None:
                        local = at.astimezone(place)
                        before, after = at - begin, end - at - whole
                        stranded = (timedelta(0) < before < shortest) + (timedelta(0) < after < shortest)
                        found.append(rules.Candidate(who, room, at, local.date(), local.time(), stranded))
                at += quarter - timedelta(minutes=at.minute % 15)
    return found, rules.rank(found, WISH, LIMIT)


def measure() -> list[Measured]:
    """Both ways over the same practice; they must agree."""
    hours, taken, rooms, client = practice(random.Random(1))
    grid = g.days_grid(FIRST, FIRST + timedelta(days=DAYS - 1), ZONE)
    ready, plain_ready = masks(grid, hours, taken, rooms, client), intervals(hours, taken, client)
    (mine, shown), (plain, ranked) = by_mask(grid, *ready), by_intervals(plain_ready[0], rooms, plain_ready[1])
    if mine.all() != sorted(plain, key=lambda each: (each.clinician, each.starts)) or shown != ranked:
        raise SystemExit("The two searches do not find the same openings.")

    def walk_all() -> None:
        free, own = intervals(hours, taken, client)
        by_intervals(free, rooms, own)

    size = f"{CLINICIANS} clinicians, {ROOMS} rooms, {DAYS} days"
    return [
        Measured(
            name=f"openings of {size} ({len(mine)} found)",
            took=quickest(lambda: by_mask(grid, *ready), rounds=9),
            yardstick="walking intervals",
            against=quickest(lambda: by_intervals(plain_ready[0], rooms, plain_ready[1]), rounds=5),
            most=0.1,
            most_took=0.025,
        ),
        Measured(
            name=f"the same from {sum(map(len, [*taken.values(), *rooms.values()]))} booked spans",
            took=quickest(lambda: by_mask(grid, *masks(grid, hours, taken, rooms, client)), rounds=9),
            yardstick="walking intervals from the same spans",
            against=quickest(walk_all, rounds=5),
            most_took=0.025,
        ),
    ]
