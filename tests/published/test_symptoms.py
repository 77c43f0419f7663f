"""The pain rules against the published conditions.

Zones: Thomee R 1997, Phys Ther 77(12):1690-1703 (0-2 safe, 2-5 acceptable, 5-10 too high; from memory of the paper), read on
a whole-number scale as 0-2, 3-5, above 5. At most 5 of 10 while loading: Silbernagel KG et al. 2007, Am J Sports Med
35(6):897-906. Both ask that pain settles by the next morning and does not climb from week to week. The vectors are worked out
from these conditions.
"""

from datetime import date, timedelta

import pytest

from programs.following.rules.symptoms import Edges, morning_rise, rises_in_a_row, verdict, weekly_means, zone

EDGES = Edges()


@pytest.mark.parametrize(
    ("pain", "expected"),
    [(0, "safe"), (2, "safe"), (3, "acceptable"), (5, "acceptable"), (6, "too_much"), (10, "too_much")],
)
def test_zones(pain, expected):
    assert zone(pain, EDGES) == expected


@pytest.mark.parametrize(
    ("during", "before", "morning", "expected"),
    [
        (2, 1, 1, "go_on"),       # safe and back to where it was
        (4, 1, 1, "hold"),        # acceptable, settled
        (5, 2, 2, "hold"),        # the edge of acceptable, settled
        (6, 2, 2, "ease"),        # too much, whatever the morning
        (6, 2, None, "ease"),
        (3, 1, 3, "ease"),        # two above the level before, next morning
        (2, 1, 2, "hold"),        # one above: not settled, and within what a scale of pain cannot tell apart
        (2, 3, 2, "go_on"),       # lower the next morning than before
        (2, None, None, "go_on"),
        (1, None, 4, "ease"),     # without an answer before, the safe zone is the level to come back to
    ],
)
def test_a_session(during, before, morning, expected):
    assert verdict(during, before, morning, EDGES) == expected


def test_the_morning_is_held_against_the_level_before():
    assert morning_rise(3, 5, EDGES) == 2
    assert morning_rise(3, 1, EDGES) == 0
    assert morning_rise(3, None, EDGES) is None


def test_weekly_means_of_2_3_4_climb_twice():
    last = date(2026, 3, 22)
    pains = [(last - timedelta(days=20 - index), value) for index, value in enumerate([2] * 7 + [3] * 7 + [4] * 7)]
    means = weekly_means(pains, last)
    assert means == [2, 3, 4]
    assert rises_in_a_row(means) == 2


@pytest.mark.parametrize(("means", "expected"), [([2, 3, 3], 0), ([4, 2, 3], 1), ([3], 0), ([], 0), ([1, 2, 3, 4], 3)])
def test_a_week_that_does_not_climb_ends_the_count(means, expected):
    assert rises_in_a_row(means) == expected


def test_a_week_without_an_answer_cuts_the_weeks_before_it_off():
    last = date(2026, 3, 22)
    assert weekly_means([(last, 4), (last - timedelta(days=14), 1)], last) == [4]
