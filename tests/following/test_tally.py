"""Sums over days: what is added can be taken off again, and each number counts for itself."""

from __future__ import annotations

from dataclasses import astuple
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.following.rules.adherence import MICRO, Counted, Tally, overdose, share, tally

TODAY = date(2026, 3, 9)
numbers = st.integers(0, 400)
tallies = st.builds(Tally, numbers, numbers, numbers, numbers, st.integers(0, 400 * MICRO), numbers)


def day(back: int, **given) -> Counted:
    known = {"state": "asked", "asked": 2, "credit": 0.5, "sessions": 1, "logged": True, "seconds": 300, "full": 900}
    return Counted(TODAY - timedelta(days=back), **{**known, "least": 600, **given})


@given(tallies, tallies)
def test_each_number_is_added_and_taken_off_by_itself(one, other):
    both = one + other
    assert astuple(both) == tuple(a + b for a, b in zip(astuple(one), astuple(other), strict=True))
    assert both - other == one
    assert both - one == other


def test_days_come_to_their_sums():
    silent, busy = day(2, logged=False, credit=0.0, sessions=0), day(1, credit=1.0, sessions=5, asked=1, least=200)
    days = [day(3), silent, busy, day(0, logged=False)]
    assert tally(days, TODAY) == Tally(days=3, silent=1, asked=5, done=2, micro=2 * MICRO, least=1400)
    assert share(days, TODAY) == pytest.approx(2 / 5)
    assert Tally.of(3, 1, 5, 2, 2.0, 1400) == tally(days, TODAY)
    assert tally(days, TODAY).credit == 2.0


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ([], 300 / 900),
        ([day(0, seconds=900)], 1200 / 1800),                            # today, answered
        ([day(0, seconds=0, logged=False)], 300 / 900),                  # today, still to come
        ([day(2, seconds=0, logged=False)], 300 / 1800),                 # past and silent
        ([day(2, state="paused", seconds=900, full=0)], 300 / 900),      # paused
        ([day(-1, seconds=900)], 300 / 900),                             # a phone's clock that runs ahead
    ],
)
def test_too_much_is_held_against_the_days_that_are_over_or_answered(more, expected):
    assert overdose([day(1), *more], TODAY) == pytest.approx(expected)
    assert overdose([], TODAY) is None
