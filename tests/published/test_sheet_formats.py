"""Dates, times and CSV as their standards have them.

- ECMA-376-1 (5th ed., 2016), 18.17.4.1: in the 1900 date base serial 1 is 1900-01-01; its examples (from memory) put
  1 January 2000 at 36526. Unix day 0 at 25569 is common practice, no source.
- RFC 4180, section 2: CRLF ends a record, quotes enclose cells with line breaks, a quote inside is written twice.
- RFC 3339, section 5.8: `1985-04-12T23:20:50.52Z` and `1996-12-19T16:39:57-08:00` (which is 1996-12-20T00:39:57Z).
- OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return are to be prefixed with an apostrophe.
"""

from datetime import UTC, date, datetime

import pytest
from openpyxl.utils.datetime import from_excel

from clinic.people.importing import reading
from clinic.people.importing.cells import guarded
from clinic.people.importing.dates import read_date
from clinic.people.importing.times import instant, read_time, split_moment


@pytest.mark.parametrize(("serial", "day"), [(36526, date(2000, 1, 1)), (25569, date(1970, 1, 1))])
def test_serials_of_the_standard(serial, day):
    assert read_date(serial, None) == read_date(str(serial), None) == day


@pytest.mark.parametrize("serial", [2_200, 2_958, 10_000, 44_197, 79_999])
def test_serials_agree_with_a_reference_library(serial):
    assert read_date(serial, None) == from_excel(serial).date()


def test_records_of_rfc_4180(tmp_path):
    path = tmp_path / "rfc4180.csv"
    path.write_bytes(b'field_name,field_name,field_name\r\naaa,"b ""bb\r\nb",ccc\r\nzzz,yyy,xxx')
    (table,) = reading.tables(path)
    assert [row.cells for row in table.rows()] == [
        ("field_name", "field_name", "field_name"), ("aaa", 'b "bb\r\nb', "ccc"), ("zzz", "yyy", "xxx"),
    ]


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, tzinfo=UTC)),
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, tzinfo=UTC)),
    ],
)
def test_instants_of_rfc_3339_to_the_minute(text, at):
    day, clock = split_moment(text)
    assert instant(read_date(day, None), read_time(clock), "Europe/London") == at


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r"])
def test_cells_that_owasp_names(sign):
    assert guarded(f"{sign}cmd") == f"'{sign}cmd"
