"""Headings and the fields they mean; tables and the kind of sheet they are."""

import pytest

from clinic.people.importing import fields
from clinic.people.importing.columns import is_headings_again, match, normal
from clinic.people.importing.faults import Unreadable
from clinic.people.importing.recognise import recognise
from clinic.people.importing.sheet import Sheet, all_sheets
from clinic.people.importing.table import SourceRow, Table

PERSON = (fields.text("given_name", "First name", "forename"), fields.day("born", "Birth date", "dob"))


def table(*rows):
    return Table("x.csv", lambda: iter([SourceRow(line, tuple(row)) for line, row in enumerate(rows, start=1)]))


@pytest.mark.parametrize(
    ("heading", "plain"),
    [("Date-of-Birth (dd/mm)", "date of birth"), ("  PRÉNOM ", "prenom"), ("Tel.", "tel"), ("", ""), (None, ""), (7, "7")],
)
def test_headings_are_compared_plainly(heading, plain):
    assert normal(heading) == plain


def test_it_says_what_it_understood_ignored_and_missed():
    columns = match(1, ["Forename", "Shoe size", "", "First name"], PERSON, [("given_name",), ("born",)])
    assert columns.index == {"given_name": 0}
    assert columns.ignored == ("Shoe size",)
    assert columns.doubled == (("First name", "Forename"),)
    assert columns.missing == ("Birth date",)


def test_one_of_several_columns_is_enough():
    both = [("given_name", "born")]
    assert match(1, ["dob"], PERSON, both).missing == ()
    assert match(1, ["shoe"], PERSON, both).missing == ("First name or Birth date",)


@pytest.mark.parametrize("headings", [["Client", "Client No"], ["Client No", "Client"]])
def test_a_heading_with_two_meanings_takes_what_is_left(headings):
    columns = match(1, headings, fields.CLIENT, [])
    assert headings[columns.index["client_ref"]] == "Client No"
    assert headings[columns.index["client_name"]] == "Client"


def test_headings_again_are_known_as_such():
    columns = match(1, ["First name", "DOB"], PERSON, [])
    assert is_headings_again(columns, ("FIRST NAME", "dob", None))
    assert not is_headings_again(columns, ("First name", "1990-01-01"))
    assert not is_headings_again(columns, ())


@pytest.mark.parametrize(
    ("headings", "code"),
    [
        (["Client ID", "Forename", "Surname", "DOB", "Mobile"], "clients"),
        (["Booking ref", "Client ID", "Date", "Time", "Practitioner", "Type"], "visits"),
        (["Client ID", "Template", "Start date", "Clinician"], "programs"),
        (["Client ID", "Date", "Done", "Pain", "Effort"], "logs"),
    ],
)
def test_each_kind_of_sheet_is_recognised(headings, code):
    assert recognise(table(["Export, 2 March 2026"], [], headings), all_sheets()).sheet.code == code


def test_a_sheet_that_lacks_a_column_says_which():
    with pytest.raises(Unreadable) as refused:
        recognise(table(["Client ID", "Date", "Time", "Type", "Room"]), all_sheets())
    assert refused.value.code == "missing_columns"
    assert "Clinician" in refused.value.sentence


@pytest.mark.parametrize("headings", [["Invoice", "Amount", "Paid"], []])
def test_a_sheet_of_something_else_is_not_recognised(headings):
    with pytest.raises(Unreadable) as refused:
        recognise(table(headings), all_sheets())
    assert refused.value.code == "not_recognised"


def test_sheets_come_after_what_they_depend_on():
    assert [sheet.code for sheet in all_sheets()] == ["clients", "visits", "programs", "logs"]


def test_a_kind_of_sheet_is_registered_once():
    from clinic.people.importing.sheet import register

    (first, *_) = all_sheets()
    register(first)
    with pytest.raises(ValueError, match="twice"):
        register(Sheet(code=first.code, label="x", fields=(), requires=(), key=lambda row: None, save=first.save))
