from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.reminders.rules.backoff import FIRST_WAIT, LONGEST_WAIT, wait_after


@pytest.mark.parametrize(
    ("attempt", "fraction", "seconds"),
    [(1, 0, 30), (1, 1, 60), (2, 0, 60), (2, 0.5, 90), (3, 1, 240), (6, 1, 1920), (7, 1, 3600), (7, 0, 1800), (40, 1, 3600)],
)
def test_the_wait_doubles_up_to_an_hour_and_half_of_it_is_jitter(attempt, fraction, seconds):
    assert wait_after(attempt, fraction) == timedelta(seconds=seconds)


@given(st.integers(1, 10**9), st.floats(0, 1))
def test_the_wait_stays_within_its_bounds_for_any_attempt(attempt, fraction):
    assert FIRST_WAIT / 2 <= wait_after(attempt, fraction) <= LONGEST_WAIT


@pytest.mark.parametrize(("attempt", "fraction"), [(0, 0.5), (-1, 0.5), (1, -0.1), (1, 1.1), (1, float("nan"))])
def test_a_wait_outside_the_bounds_is_refused(attempt, fraction):
    with pytest.raises(ValueError, match=r"attempt starts at 1|fraction lies in 0\.\.1"):
        wait_after(attempt, fraction)
