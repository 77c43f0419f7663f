"""Where a reassessment stands."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.visits.rules.window import SOON_DAYS, STATES, soon_until, state

unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])   # a busy machine is no failure

WINDOW = date(2026, 3, 8), date(2026, 3, 10), date(2026, 3, 17)


@pytest.mark.parametrize(
    ("today", "expected"),
    [
        (date(2026, 2, 28), ("not_yet", 8)),
        (date(2026, 3, 1), ("due_soon", 7)),
        (date(2026, 3, 7), ("due_soon", 1)),
        (date(2026, 3, 8), ("due", 2)),
        (date(2026, 3, 10), ("due", 0)),
        (date(2026, 3, 11), ("overdue", 1)),
        (date(2026, 3, 20), ("overdue", 10)),
    ],
)
def test_a_window_passes_day_by_day(today, expected):
    assert state(*WINDOW, today) == expected


def test_a_booked_one_counts_the_days_to_its_visit_and_goes_below_zero_when_nobody_closed_it():
    assert state(*WINDOW, date(2026, 3, 20), booked_for=date(2026, 3, 24)) == ("booked", 4)
    assert state(*WINDOW, date(2026, 3, 26), booked_for=date(2026, 3, 24)) == ("booked", -2)
    assert state(*WINDOW, date(2026, 3, 26), booked_for=date(2026, 3, 24), done=True) == ("done", 0)


def test_a_window_out_of_order_is_refused():
    with pytest.raises(ValueError, match="not in order"):
        state(date(2026, 3, 9), date(2026, 3, 8), date(2026, 3, 10), date(2026, 3, 1))


days = st.dates(date(2000, 1, 1), date(2100, 1, 1))
spans = st.integers(0, 400).map(timedelta)
ORDER = {"not_yet": 0, "due_soon": 1, "due": 2, "overdue": 3}


@unhurried
@given(days, spans, spans, days)
def test_an_unbooked_one_is_in_exactly_the_state_its_days_say(earliest, to_due, to_latest, today):
    due = earliest + to_due
    code, count = state(earliest, due, due + to_latest, today)
    expected = {
        "overdue": today > due,
        "due": earliest <= today <= due,
        "due_soon": timedelta(0) < earliest - today <= timedelta(SOON_DAYS),
        "not_yet": earliest - today > timedelta(SOON_DAYS),
    }
    assert [name for name, holds in expected.items() if holds] == [code]
    assert count >= 0
    assert (code == "due_soon") == (today < earliest <= soon_until(today))


@unhurried
@given(days, spans, spans, days)
def test_the_next_day_never_goes_back(earliest, to_due, to_latest, today):
    due = earliest + to_due
    latest = due + to_latest
    before, count = state(earliest, due, latest, today)
    after, next_count = state(earliest, due, latest, today + timedelta(1))
    assert ORDER[after] >= ORDER[before]
    if before == after:
        assert next_count - count == (1 if after == "overdue" else -1)


@unhurried
@given(days, spans, spans, days, st.none() | days, st.booleans())
def test_done_outranks_booked_and_booked_outranks_the_days(earliest, to_due, to_latest, today, booked_for, done):
    due = earliest + to_due
    code, count = state(earliest, due, due + to_latest, today, booked_for, done)
    assert code in STATES
    assert (code == "done") == done
    if booked_for and not done:
        assert (code, count) == ("booked", (booked_for - today).days)
