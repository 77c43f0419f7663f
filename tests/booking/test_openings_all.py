"""Openings equal a search that tries every five minutes, on 500 random days, those of 23 and 25 hours among them."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta

from clinic.booking.rules import grid as g
from clinic.booking.rules import openings as o
from clinic.people.rules import zones

DAYS = 500
ZONES = ("Europe/London", "America/New_York", "Australia/Lord_Howe", "UTC")   # Lord Howe changes by half an hour
# days on which the clocks of the zone change in 2026 (tz database)
CHANGES = {
    "Europe/London": (date(2026, 3, 29), date(2026, 10, 25)), "America/New_York": (date(2026, 3, 8), date(2026, 11, 1)),
    "Australia/Lord_Howe": (date(2026, 4, 5), date(2026, 10, 4)), "UTC": (),
}
TICK = timedelta(minutes=5)


def spans(dice, begin, hours, count):
    """Up to `count` spans of whole minutes, some of them off the grid, some across an end of the day."""
    found = []
    for _ in range(dice.randint(0, count)):
        start = begin + timedelta(minutes=dice.randint(-60, hours * 60))
        found.append((start, start + timedelta(minutes=dice.randint(1, 180))))
    return found


def free(at, until, open_, taken) -> bool:
    """Whether each five minutes of at..until lies wholly in one open span, and none of the taken ones touches them."""
    while at < until:
        inside = any(start <= at and at + TICK <= end for start, end in open_)
        # what is taken takes every tick it touches
        if not inside or any(start < at + TICK and at < end for start, end in taken):
            return False
        at += TICK
    return True


def tried(begin, end, length, people, rooms, client, not_before, zone, shortest):
    """Every offered start by trying each tick of the day."""
    found, always = [], [(begin, end)]
    before, during, after = (timedelta(minutes=5 * ticks) for ticks in (length.before, length.during, length.after))
    for who, (open_, taken) in people.items():
        at = begin
        while at < end:
            busy_from, busy_until = at - before, at + during + after
            ok = free(busy_from, busy_until, open_, taken) and free(at, at + during, always, client)
            room = ok and next((name for name, held in rooms.items() if free(busy_from, busy_until, always, held)), None)
            ahead = busy_from - TICK >= begin and free(busy_from - TICK, busy_from, open_, taken)
            quarter = at.timestamp() % 900 == 0
            in_time = g.cell_of(at) >= -(-not_before.timestamp() // g.CELL)
            if room and in_time and (quarter or not ahead):
                local = at.astimezone(zones.zone(zone))
                gaps = [gap(busy_from, -TICK, begin, end, open_, taken), gap(busy_until, TICK, begin, end, open_, taken)]
                stranded = sum(0 < each < shortest for each in gaps)
                found.append(o.Candidate(who, room, at, local.date(), local.time(), stranded))
            at += TICK
    return found


def gap(at, step, begin, end, open_, taken) -> int:
    """Free ticks in a row from `at` on, forwards or backwards, within the day."""
    count = 0
    while True:
        low = at if step > timedelta(0) else at + step
        if low < begin or low + TICK > end or not free(low, low + TICK, open_, taken):
            return count
        count, at = count + 1, at + step


def test_every_start_is_found_and_no_other():
    hours_seen = set()
    for number in range(DAYS):
        dice = random.Random(number)
        zone = ZONES[number % len(ZONES)]
        day = date(2026, 1, 1) + timedelta(dice.randint(0, 364))
        if CHANGES[zone] and dice.random() < 0.5:
            day = dice.choice(CHANGES[zone])
        begin, end = zones.day_bounds(day, zone)
        hours = int((end - begin) / timedelta(hours=1))
        hours_seen.add((end - begin) / timedelta(hours=1))
        length = o.Length(dice.choice((0, 0, 1, 2)), dice.randint(2, 12), dice.choice((0, 1)))
        people = {who: (spans(dice, begin, hours, 2), spans(dice, begin, hours, 2)) for who in range(dice.randint(1, 2))}
        rooms = {name: spans(dice, begin, hours, 2) for name in range(10, 10 + dice.randint(1, 2))}
        client = spans(dice, begin, hours, 1)
        not_before: datetime = begin + timedelta(minutes=dice.randint(-100, 600))
        grid = g.days_grid(day, day, zone)
        found = o.find(
            grid, length, {who: grid.covered(open_) & ~grid.touched(taken) for who, (open_, taken) in people.items()},
            {name: grid.full & ~grid.touched(held) for name, held in rooms.items()}, grid.full & ~grid.touched(client),
            not_before=not_before, shortest=6, zone=zone,
        )
        wanted = tried(begin, end, length, people, rooms, client, not_before, zone, 6)
        assert found.all() == wanted, (number, zone, day)
        wish = o.Wish(day, day, 1, None)
        assert o.best(found, wish, 5) == o.rank(wanted, wish, 5)
    assert {23.0, 23.5, 24.0, 24.5, 25.0} <= hours_seen
