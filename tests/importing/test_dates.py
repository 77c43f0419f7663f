"""Dates as people write them; day or month first only on evidence."""

from datetime import date, datetime

import pytest

from clinic.people.importing.dates import DayOrderEvidence, read_date
from clinic.people.importing.faults import Fault

THIRD = date(2026, 3, 3)


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("2026-03-29", date(2026, 3, 29)),
        ("2026/3/9", date(2026, 3, 9)),
        ("20260329", date(2026, 3, 29)),
        ("29/03/2026", date(2026, 3, 29)),
        ("29.3.26", date(2026, 3, 29)),
        ("3/29/2026", date(2026, 3, 29)),
        (" 03/03/2026 ", THIRD),
        ("3 March 2026", THIRD),
        ("3rd of March, 2026", THIRD),
        ("Tue 3 Mar 2026", THIRD),
        ("3-Mar-26", THIRD),
        ("March 3, 2026", THIRD),
        ("3 de marzo de 2026", THIRD),
        ("46084", THIRD),
        (46084, THIRD),
        (46084.0, THIRD),
        (datetime(2026, 3, 3, 14, 0), THIRD),
        (THIRD, THIRD),
    ],
)
def test_accepted(cell, day):
    assert read_date(cell, None) == day


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("30/02/2026", "no_such_day"),
        ("2026-02-30", "no_such_day"),
        ("29 February 2025", "no_such_day"),
        ("31 Smarch 2026", "not_a_date"),
        ("soon", "not_a_date"),
        ("", "not_a_date"),
        ("#REF!", "not_a_date"),
        ("2026", "not_a_date"),
        ("0", "not_a_date"),
        ("123456789", "not_a_date"),
        ("03/04/2026", "ambiguous_date"),
        ("1/2/3/4", "not_a_date"),
        ("03/04/2026; 05/04/2026", "not_a_date"),
        (True, "not_a_date"),
    ],
)
def test_refused(cell, code):
    with pytest.raises(Fault) as refused:
        read_date(cell, None)
    assert refused.value.code == code


def test_an_ambiguous_date_offers_both_readings():
    with pytest.raises(Fault) as refused:
        read_date("03/04/2026", None)
    assert "2026-04-03" in refused.value.mend
    assert "2026-03-04" in refused.value.mend


@pytest.mark.parametrize(("order", "day"), [("dmy", date(2026, 4, 3)), ("mdy", date(2026, 3, 4))])
def test_a_decided_column_reads_it(order, day):
    assert read_date("03/04/2026", order) == day


def test_a_decided_column_refuses_what_only_the_other_order_allows():
    with pytest.raises(Fault) as refused:
        read_date("03/29/2026", "dmy")
    assert refused.value.code == "no_such_day"


def test_a_birth_date_needs_its_century():
    assert read_date("05/03/1961", "dmy", short_years=False) == date(1961, 3, 5)
    with pytest.raises(Fault) as refused:
        read_date("05/03/61", "dmy", short_years=False)
    assert refused.value.code == "short_year"


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["03/04/2026", "29/03/2026"], "dmy"),
        (["03/04/2026", "03/29/2026"], "mdy"),
        (["03/04/2026", "05/06/2026"], None),
        (["03/29/2026", "29/03/2026"], None),
        (["30/02/2026", "31/02/2026"], None),          # no such days prove nothing
        (["2026-03-29", "29 March 2026", 46084, None, ""], None),
        (["29/03/2026 09:30"], "dmy"),
    ],
)
def test_what_a_column_shows(cells, order):
    evidence = DayOrderEvidence()
    for cell in cells:
        evidence.add(cell)
    assert evidence.order == order


def test_a_column_says_what_it_was_decided_by():
    evidence = DayOrderEvidence()
    for cell in ("03/04/2026", "29/03/2026"):
        evidence.add(cell)
    assert evidence.sentence("Date") == "Date: read day first, because 1 of its dates allow nothing else."


def test_a_column_without_numeric_dates_has_nothing_to_say():
    evidence = DayOrderEvidence()
    evidence.add("2026-03-29")
    assert evidence.sentence("Date") == ""
