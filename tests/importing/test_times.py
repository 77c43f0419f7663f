"""Times of day, and the instant they name at a site."""

from datetime import UTC, date, datetime, time

import pytest

from clinic.people.importing.faults import Fault
from clinic.people.importing.times import WallTime, instant, read_time, split_moment

LONDON = "Europe/London"
GAP, OVERLAP = date(2026, 3, 29), date(2026, 10, 25)


@pytest.mark.parametrize(
    ("cell", "at"),
    [
        ("9:30", time(9, 30)), ("09.30", time(9, 30)), ("0930", time(9, 30)), ("9h30", time(9, 30)),
        ("9:30:00", time(9, 30)), ("9.30am", time(9, 30)), ("9:30 p.m.", time(21, 30)), ("12am", time(0)),
        ("12 pm", time(12)), (time(9, 30), time(9, 30)), (datetime(2026, 3, 2, 9, 30), time(9, 30)), (0.375, time(9)),
        (0.9999999, time(0)),
    ],
)
def test_accepted(cell, at):
    assert read_time(cell) == WallTime(at)


@pytest.mark.parametrize("cell", ["25:00", "9", "9:75", "half nine", "13pm", "0am", "", "930", 9, True, 1.5])
def test_refused(cell):
    with pytest.raises(Fault) as refused:
        read_time(cell)
    assert refused.value.code == "not_a_time"


@pytest.mark.parametrize(
    ("cell", "suffix"), [("01:30 BST", "BST"), ("01:30+01:00", "+01:00"), ("01:30 +0100", "+0100"), ("01:30Z", "Z")]
)
def test_what_stands_behind_a_time(cell, suffix):
    assert read_time(cell) == WallTime(time(1, 30), suffix)


@pytest.mark.parametrize(
    ("cell", "parts"),
    [
        ("29/03/2026 01:30", ("29/03/2026", "01:30")),
        ("2026-03-29T01:30Z", ("2026-03-29", "01:30Z")),
        ("3 March 2026, 9.30am", ("3 March 2026", "9.30am")),
        ("3 March 2026 at 2pm", ("3 March 2026", "2pm")),
        ("3 March 2026", ("3 March 2026", None)),
        ("29.03.2026", ("29.03.2026", None)),
        (datetime(2026, 3, 29, 9, 30), (date(2026, 3, 29), time(9, 30))),
        (datetime(2026, 3, 29), (date(2026, 3, 29), None)),
    ],
)
def test_a_date_and_time_in_one_cell(cell, parts):
    assert split_moment(cell) == parts


def test_an_ordinary_time_is_the_sites_own():
    assert instant(date(2026, 7, 1), WallTime(time(9)), LONDON) == datetime(2026, 7, 1, 8, tzinfo=UTC)


def test_a_skipped_time_names_its_neighbours():
    with pytest.raises(Fault) as refused:
        instant(GAP, WallTime(time(1, 30)), LONDON)
    assert refused.value.code == "nonexistent_time"
    assert refused.value.mend == "Write 00:30 or 02:30."


def test_a_doubled_time_names_both_offsets():
    with pytest.raises(Fault) as refused:
        instant(OVERLAP, WallTime(time(1, 30)), LONDON)
    assert refused.value.code == "ambiguous_time"
    assert refused.value.mend == "Write 01:30+01:00 or 01:30+00:00."


@pytest.mark.parametrize(
    ("suffix", "hour"), [("BST", 0), ("GMT", 1), ("+01:00", 0), ("+0000", 1), ("Z", 1)]
)
def test_a_doubled_time_with_its_offset_is_one_instant(suffix, hour):
    assert instant(OVERLAP, WallTime(time(1, 30), suffix), LONDON) == datetime(2026, 10, 25, hour, 30, tzinfo=UTC)


@pytest.mark.parametrize("suffix", ["CET", "GMT", "+99:00"])
def test_letters_that_no_clock_there_shows_are_refused(suffix):
    with pytest.raises(Fault) as refused:
        instant(date(2026, 7, 1), WallTime(time(9), suffix), LONDON)
    assert refused.value.code == "unknown_offset"
