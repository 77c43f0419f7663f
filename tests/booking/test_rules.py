"""The pure core of booking: hours, the grid of five-minute ticks, openings, and what may follow what."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from clinic.booking.rules import grid as g
from clinic.booking.rules import openings as o
from clinic.booking.rules import status
from clinic.booking.rules.recurrence import expand
from clinic.booking.vocab import AppointmentStatus

LONDON = "Europe/London"
SPRING, AUTUMN, MONDAY = date(2026, 3, 29), date(2026, 10, 25), date(2026, 3, 2)


def at(hour, minute=0, day=MONDAY):
    return datetime.combine(day, time(hour, minute), UTC)


@pytest.mark.parametrize(("day", "ticks"), [(SPRING, 276), (MONDAY, 288), (AUTUMN, 300)])
def test_a_day_has_as_many_ticks_as_its_clock_gives(day, ticks):
    assert g.days_grid(day, day, LONDON).length == ticks


def test_working_hours_stay_on_the_clock_across_a_change():
    spans = expand("FREQ=DAILY", MONDAY, time(9), time(17), LONDON, date(2026, 3, 28), SPRING)
    assert [start.hour for start, _ in spans] == [9, 8]
    night = expand("FREQ=DAILY", MONDAY, time(0), time(4), LONDON, SPRING, SPRING)
    assert [(end - start) for start, end in night] == [timedelta(hours=3)]
    long_night = expand("FREQ=DAILY", MONDAY, time(0), time(4), LONDON, AUTUMN, AUTUMN)
    assert [(end - start) for start, end in long_night] == [timedelta(hours=5)]


def test_hours_that_the_gap_swallows_are_left_out_and_overnight_ones_end_the_next_day():
    assert expand("FREQ=DAILY", MONDAY, time(1), time(2), LONDON, SPRING, SPRING) == []
    assert expand("FREQ=DAILY", MONDAY, time(22), time(2), LONDON, MONDAY, MONDAY) == [(at(22), at(2) + timedelta(days=1))]


@pytest.mark.parametrize(
    "rule",
    ["", "DAILY", "FREQ=HOURLY", "FREQ=DAILY;COUNT=2;UNTIL=20260401", "FREQ=DAILY;BYHOUR=3", "FREQ=DAILY;UNTIL=soon",
     "FREQ=WEEKLY;BYDAY=XX", "FREQ=DAILY;FREQ=DAILY", "FREQ=DAILY;INTERVAL=x", "FREQ=DAILY;INTERVAL=0",
     "FREQ=DAILY;SURPRISE=1"],
)
def test_a_rule_that_cannot_be_used_is_named(rule):
    with pytest.raises(ValueError, match="rule"):
        expand(rule, MONDAY, time(9), time(17), LONDON, MONDAY, MONDAY)


def test_an_unknown_zone_is_named_and_a_bare_last_day_is_included():
    with pytest.raises(ValueError, match="Mars/Base"):
        expand("FREQ=DAILY", MONDAY, time(9), time(17), "Mars/Base", MONDAY, MONDAY)
    spans = expand("FREQ=DAILY;UNTIL=20260303", MONDAY, time(9), time(17), LONDON, MONDAY, date(2026, 3, 9))
    assert len(spans) == 2


def test_open_time_counts_whole_ticks_and_taken_time_every_tick_it_touches():
    grid = g.Grid(g.cell_of(at(9)), 12)
    ragged = [(at(9, 2), at(9, 14))]
    assert grid.covered(ragged) == 0b010
    assert grid.touched(ragged) == 0b111
    assert list(grid.instants(0b101)) == [at(9), at(9, 10)]
    outside = [(at(7), at(8)), (at(11), at(12))]
    assert grid.covered(outside) == grid.touched(outside) == 0


def test_a_run_of_free_ticks_is_found_where_it_fits():
    free = 0b1110_1111
    assert list(g.indices(g.free_runs(free, 3))) == [0, 1, 5]
    assert list(g.indices(g.free_runs(free, 4))) == [0]
    assert g.free_runs(free, 5) == 0
    assert g.room_around(0b1111, 1, 2) == (1, 1)
    assert g.room_around(0b0110, 1, 2) == (0, 0)


def test_a_span_across_midnight_lies_in_both_days():
    span = [(at(23, 30), at(0, 30) + timedelta(days=1))]
    monday, tuesday = (g.days_grid(day, day, LONDON) for day in (MONDAY, MONDAY + timedelta(days=1)))
    assert (monday.touched(span).bit_count(), tuesday.touched(span).bit_count()) == (6, 6)
    assert len(g.cells(*span[0])) == 12


@pytest.mark.parametrize(("day", "extra"), [(SPRING, -1), (MONDAY, 0), (AUTUMN, 1)])
def test_a_night_shift_offers_the_hours_the_clock_really_has(day, extra):
    grid = g.days_grid(day, day, LONDON)
    open_ = grid.covered(expand("FREQ=DAILY", MONDAY, time(0), time(4), LONDON, day, day))
    found = o.find(
        grid, o.Length(0, 12, 0), {1: open_}, {1: grid.full}, grid.full, not_before=g.instant_of(grid.first),
        shortest=1, zone=LONDON,
    ).all()
    hours = 4 + extra
    assert len(found) == (hours - 1) * 4 + 1
    assert len({candidate.starts for candidate in found}) == len(found), "an hour that comes twice is two instants"


def find(clinicians, rooms=None, client=(), length=None, not_before=None):
    grid = g.days_grid(MONDAY, MONDAY, "UTC")
    free = {pk: grid.covered([(at(9), at(12))]) & ~grid.touched(taken) for pk, taken in clinicians.items()}
    places = {pk: grid.full & ~grid.touched(taken) for pk, taken in (rooms or {1: []}).items()}
    return o.find(
        grid, length or o.Length(0, 6, 1), free, places, grid.full & ~grid.touched(client),
        not_before=not_before or at(0), shortest=7, zone="UTC",
    ).all()


def test_an_opening_needs_clinician_room_and_client_at_once():
    assert {one.starts for one in find({1: []})} == {at(9) + timedelta(minutes=15 * n) for n in range(10)}
    assert find({1: []}, rooms={1: [(at(0), at(23))]}) == []
    assert find({1: []}, client=[(at(9), at(12))]) == []
    assert [one.room for one in find({1: [(at(9, 35), at(12))]}, rooms={1: [(at(9), at(10))], 2: []})] == [2]
    assert min(one.starts for one in find({1: []}, not_before=at(10, 1))) == at(10, 15)


def test_an_opening_starts_on_a_quarter_or_flush_with_what_is_before():
    starts = [one.starts for one in find({1: [(at(9), at(9, 35))]})]
    assert starts[:2] == [at(9, 35), at(9, 45)]


def test_preparation_holds_the_clinician_and_not_the_client():
    prepared = find({1: []}, client=[(at(9), at(9, 10))], length=o.Length(2, 6, 0))
    assert prepared[0].starts == at(9, 10)


def candidate(clinician=1, day=MONDAY, hour=9, stranded=0):
    return o.Candidate(clinician, 1, at(hour, day=day), day, time(hour), stranded)


def test_openings_are_ranked_by_window_clinician_time_day_and_gaps():
    late = date(2026, 3, 20)
    wish = o.Wish(earliest=date(2026, 3, 9), latest=date(2026, 3, 13), clinician=2, hours=(time(12), time(17)))
    inside = date(2026, 3, 10)
    order = [
        candidate(2, inside, 14), candidate(2, inside, 15, stranded=1), candidate(2, inside, 9),
        candidate(1, inside, 14), candidate(2, late, 14),
    ]
    ranked = o.rank(reversed(order), wish, 10)
    assert [entry.candidate for entry in ranked] == [order[0], order[2], order[3], order[4], order[1]]
    assert ranked[0].reasons == ("in_window", "same_clinician", "usual_time", "no_gap")
    assert ranked[3].reasons == ("after_window", "same_clinician", "usual_time", "no_gap")
    assert ranked[4].reasons[-1] == "leaves_gap"
    assert o.rank(order, wish, 2) == ranked[:2]
    assert o.rank([candidate()], o.Wish(latest=late, earliest=inside), 1)[0].reasons == ("before_window", "no_gap")
    assert o.rank([candidate()], o.Wish(), 1)[0].reasons == ("no_gap",)


def test_no_clinicians_day_fills_the_list():
    many = [candidate(1, MONDAY, hour) for hour in range(9, 17)] + [candidate(2, MONDAY, 16)]
    first = [(entry.candidate.clinician, entry.candidate.at.hour) for entry in o.rank(many, o.Wish(), 4)]
    assert first == [(1, 9), (1, 11), (1, 13), (2, 16)]


def test_every_status_is_known_to_the_steps_and_leads_to_known_ones():
    assert set(status.NEXT) == set(AppointmentStatus.values)
    assert {step for steps in status.NEXT.values() for step in steps} <= set(AppointmentStatus.values)


@pytest.mark.parametrize(
    ("current", "wanted", "now", "answer"),
    [
        ("booked", "arrived", at(8), None),
        ("booked", "arrived", at(8) - timedelta(days=1), "too_early"),
        ("booked", "noshow", at(9), "too_early"),
        ("booked", "noshow", at(10), None),
        ("entered-in-error", "booked", at(10), "wrong_step"),
        ("nonsense", "booked", at(10), "wrong_step"),
    ],
)
def test_a_step_is_taken_in_order_and_not_ahead_of_time(current, wanted, now, answer):
    assert status.why_not(current, wanted, starts=at(10), day=MONDAY, now=now, today=now.date()) == answer
