"""Moving a day: 60 visits of a closed day proven optimal, and a closed week of 1,000 visits within one percent of the bound.

Yardstick: giving each visit in turn the cheapest place that is left (greedy), which is quick, and dearer.
"""

from __future__ import annotations

import random
from datetime import timedelta
from time import process_time

from clinic.booking.rules import places, replacing
from tests.benchmarks.common import Measured
from tests.booking import small_books
from tests.booking.small_books import MONDAY

SETTING = "plain"


def case(count, clinicians, rooms, closed, span):
    """A practice whose hours are half booked, and the visits of the closed days."""
    dice = random.Random(7)
    book = small_books.book(dice, clinicians=clinicians, rooms=rooms, days=35, filled=0.5, closed=closed)
    return small_books.jobs(dice, book, count, day=MONDAY + timedelta(days=closed[0]), span=span), book


def solved(count, clinicians, rooms, closed, span, within):
    """The answer, its processor seconds, the greedy cost and its seconds."""
    # the limit is on the wall clock and far off: what is measured is the processor's time
    jobs, book = case(count, clinicians, rooms, closed, span)
    begun = process_time()
    answer = replacing.place_all(jobs, book, within=within, seconds=600)
    took, begun = process_time() - begun, process_time()
    ground = places.ground_of(book)
    _, plain = replacing.in_turn(ground, jobs, [places.costs(ground, job) for job in jobs])
    return answer, took, plain, process_time() - begun


def measure() -> list[Measured]:
    """Seconds, and for the week the distance from the bound in percent."""
    day, took, plain, quick = solved(60, 8, 8, (7,), 1, 0.0)
    if not day.proven:
        raise SystemExit("The day was not proven optimal.")
    week, week_took, week_plain, week_quick = solved(1000, 25, 25, (7, 8, 9, 10, 11), 5, 0.01)
    return [
        Measured(f"moving a day of 60 visits, proven optimal at {day.cost} points", took,
                 f"greedy, {plain} points", quick, most_took=2.0),
        Measured(f"moving a closed week of 1,000 visits, {week.cost} points", week_took,
                 f"greedy, {week_plain} points", week_quick, most_took=60.0),
        Measured("… its distance from the bound", 100 * week.gap, "greedy's distance",
                 100 * (week_plain - week.bound) / week.bound, most_took=1.0, unit="%"),
    ]
