"""The optimiser against a published assignment example and a textbook case of interval scheduling."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from clinic.booking.rules import grid as g
from clinic.booking.rules import linear, places, replacing
from clinic.booking.rules.openings import Length
from clinic.booking.rules.replacing import place_all

BEGIN = datetime(2026, 3, 2, tzinfo=UTC)
DAY = g.Grid(g.cell_of(BEGIN), 288)
# Cormen, Leiserson, Rivest, Stein: Introduction to Algorithms, the activity-selection example (half-open, in hours)
ACTIVITIES = [(1, 4), (3, 5), (0, 6), (5, 7), (3, 9), (5, 9), (6, 10), (8, 11), (8, 12), (2, 14), (12, 16)]


def book(clinicians, rooms):
    return places.Book(DAY, "UTC", clinicians, rooms, BEGIN, 6)


def only_at(key, begin, end):
    """A visit that can be at one time only: the rest of the day is taken by what its client has already."""
    spans = [(BEGIN, BEGIN + timedelta(hours=begin)), (BEGIN + timedelta(hours=end), BEGIN + timedelta(days=1))]
    taken = tuple(span for span in spans if span[0] < span[1])
    return places.Job(key, key, 0, BEGIN.date(), None, Length(0, 12 * (end - begin), 0), (100,), taken=taken)


def test_activity_selection_places_four():
    """Largest set of compatible activities: 4, such as (1,4), (5,7), (8,11), (12,16)."""
    answer = place_all([only_at(key, *span) for key, span in enumerate(ACTIVITIES)], book({0: DAY.full}, {100: DAY.full}))
    assert len(answer.placed) == 4
    assert answer.proven
    chosen = sorted(ACTIVITIES[key] for key in answer.placed)
    assert all(one[1] <= other[0] for one, other in pairwise(chosen))


@pytest.mark.parametrize(("rooms", "placed"), [(6, 11), (5, 10)])
def test_all_activities_need_six_rooms(rooms, placed):
    """Interval partitioning: as many resources as intervals meet at once, here 6 (computed: hours 3 to 4, 5 to 6 …)."""
    names = tuple(range(100, 100 + rooms))
    jobs = [only_at(key, *span) for key, span in enumerate(ACTIVITIES)]
    jobs = [places.Job(job.key, job.client, key, job.day, None, job.length, names, taken=job.taken,
                       clinicians=frozenset({key})) for key, job in enumerate(jobs)]
    answer = place_all(jobs, book(dict.fromkeys(range(len(jobs)), DAY.full), dict.fromkeys(names, DAY.full)))
    assert len(answer.placed) == placed


def test_assignment_example(monkeypatch):
    """Three visits, three hours, the costs of SciPy's documented linear_sum_assignment example: least cost 5
    (C[0,1] + C[1,0] + C[2,2] = 1 + 2 + 2)."""
    table = np.array([[4, 1, 3], [2, 0, 5], [3, 2, 2]])
    rows, columns = linear_sum_assignment(table)
    assert table[rows, columns].sum() == 5
    hours = [DAY.covered([(BEGIN + timedelta(hours=at), BEGIN + timedelta(hours=at + 1))]) for at in (9, 11, 13)]
    jobs = [places.Job(key, key, 0, BEGIN.date(), None, Length(0, 12, 0), (100,)) for key in range(3)]
    # the points of our own are set aside: what is checked is the choice
    monkeypatch.setattr(places, "costs", lambda ground, job: table[[job.key]].astype(np.int32))
    found = book({0: sum(hours)}, {100: DAY.full})
    search = replacing._Search(
        linear.shape_of(ground := places.ground_of(found), jobs), [places.costs(ground, job) for job in jobs], 10.0
    )
    bound, _ = search.relax()
    chosen, ended = search.rooms.solve(search.model, search.choices, 0.0, 0, 10.0)
    begins = ground.kind(jobs[0]).begins.tolist()
    assert (bound, ended) == (5.0, True)
    assert {choice.job: begins.index(choice.begin) for choice in chosen} == {0: 1, 1: 0, 2: 2}
