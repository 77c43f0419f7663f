"""Files as they come: encodings, delimiters, broken quotes, disguised and oversized packages."""

import io
import zipfile
from datetime import datetime, time

import openpyxl
import pytest

from clinic.people.importing import reading, reading_csv, reading_xlsx
from clinic.people.importing.faults import Unreadable


def rows_of(path):
    (table,) = reading.tables(path)
    return [(row.line, row.cells, row.fault.code if row.fault else "") for row in table.rows() if not row.blank]


def laid(tmp_path, data, name="sheet.csv"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


def refusal(path):
    with pytest.raises(Unreadable) as refused:
        [list(table.rows()) for table in reading.tables(path)]
    return refused.value.code


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("name,town\nZoë,Brîn\n".encode(), "UTF-8"),
        ("name,town\nZoë,Brîn\n".encode("utf-8-sig"), "UTF-8"),
        ("name,town\nZoë,Brîn\n".encode("utf-16"), "UTF-16"),
        ("name;town\r\nZoë;Brîn\r\n".encode("cp1252"), "Windows-1252"),
        ("name\ttown\rZoë\tBrîn\r".encode("latin-1"), "Windows-1252"),
        ("sep=|\nname|town\nZoë|Brîn\n".encode(), "UTF-8"),
    ],
)
def test_encodings_and_delimiters(tmp_path, data, said):
    path = laid(tmp_path, data)
    assert [cells for _, cells, _ in rows_of(path)] == [("name", "town"), ("Zoë", "Brîn")]
    assert said in reading.tables(path)[0].notes[0]


def test_bytes_windows_does_not_know_are_latin_1(tmp_path):
    path = laid(tmp_path, b"name;town\nZo\xeb;\x81\n")
    assert rows_of(path)[1][1] == ("Zoë", "\x81")
    assert "Latin-1" in reading.tables(path)[0].notes[0]


def test_a_line_break_inside_quotes_keeps_the_line_numbers(tmp_path):
    path = laid(tmp_path, b'name,note\r\nAda,"two\r\nlines"\r\nBo,x\r\n')
    assert rows_of(path) == [(1, ("name", "note"), ""), (2, ("Ada", "two\r\nlines"), ""), (4, ("Bo", "x"), "")]


def test_a_quote_never_closed_loses_its_own_line_only(tmp_path):
    path = laid(tmp_path, b'name,note\nAda,"oops\nBo,fine\nCy,"all well"\n')
    assert [(line, fault) for line, _, fault in rows_of(path)] == [(1, ""), (2, "unclosed_quote"), (3, ""), (4, "")]


def test_a_quote_inside_a_cell_is_text(tmp_path):
    assert rows_of(laid(tmp_path, b'name,note\nAda,6" roller\n'))[1][1] == ("Ada", '6" roller')


def test_many_unclosed_quotes_stay_quick(tmp_path):
    path = laid(tmp_path, b"name,note\n" + b'Ada,"x\n' * 399)
    faults = [fault for _, _, fault in rows_of(path)]
    assert len(faults) <= 400


def test_an_endless_line_is_refused(tmp_path):
    assert refusal(laid(tmp_path, b"name,note\n" + b"x" * (reading_csv.MOST_LINE + 1))) == "long_line"


@pytest.mark.parametrize(
    ("data", "name", "code"),
    [
        (b"", "a.csv", "empty_file"),
        (b"PK\x03\x04 and more", "a.csv", "wrong_kind"),
        (b"name,town\n", "a.xlsx", "wrong_kind"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a.xls", "wrong_kind"),
        (b"%PDF-1.7", "a.csv", "wrong_kind"),
        (b"<html>", "a.csv", "wrong_kind"),
        (b"PK\x03\x04 and more", "a.xlsx", "damaged"),
    ],
)
def test_what_is_not_what_it_says(tmp_path, data, name, code):
    assert refusal(laid(tmp_path, data, name)) == code


def test_a_file_that_is_not_there(tmp_path):
    assert refusal(tmp_path / "gone.csv") == "cannot_open"


def test_a_file_has_a_size_cap(tmp_path, monkeypatch):
    path = laid(tmp_path, b"name,town\n")
    monkeypatch.setattr(reading, "MOST_BYTES", 5)
    assert refusal(path) == "too_large"


def workbook(tmp_path, rows, **more):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for title, lines in more.items():
        sheet = book.create_sheet(title)
        for line in lines:
            sheet.append(line)
    path = tmp_path / "book.xlsx"
    book.save(path)
    return path


def test_a_workbook_keeps_dates_and_numbers(tmp_path):
    path = workbook(tmp_path, [["name", "day", "at", "n"], ["Zoë", datetime(2026, 3, 29), time(9, 30), 4.5], [], ["Bo"]])
    assert rows_of(path) == [
        (1, ("name", "day", "at", "n"), ""), (2, ("Zoë", datetime(2026, 3, 29), time(9, 30), 4.5), ""), (4, ("Bo",), ""),
    ]


def test_each_filled_worksheet_is_a_table(tmp_path):
    path = workbook(tmp_path, [["name"], ["Ada"]], Second=[["day"], ["x"]], Empty=[])
    assert [table.name for table in reading.tables(path)] == ["book.xlsx [Sheet]", "book.xlsx [Second]"]


def repacked(path, change):
    """The same package with its parts run through change(name, data) -> data."""
    packed = io.BytesIO()
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    path.write_bytes(packed.getvalue())
    return path


def test_a_bomb_is_refused_before_it_is_unpacked(tmp_path, monkeypatch):
    path = repacked(
        workbook(tmp_path, [["name"], ["Ada"]]),
        lambda name, data: data + b" " * 3_000_000 if name.endswith("sheet1.xml") else data,
    )
    assert path.stat().st_size < 50_000
    assert [cells for _, cells, _ in rows_of(path)] == [("name",), ("Ada",)]
    monkeypatch.setattr(reading_xlsx, "MOST_UNPACKED", 2_000_000)
    assert refusal(path) == "too_large"


def test_declarations_in_its_xml_are_refused(tmp_path):
    bomb = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa">]>'
    path = repacked(
        workbook(tmp_path, [["name"], ["Ada"]]),
        lambda name, data: bomb + data if name.endswith("sheet1.xml") else data,
    )
    assert refusal(path) == "wrong_kind"


def test_a_package_that_is_no_workbook(tmp_path):
    path = tmp_path / "a.xlsx"
    with zipfile.ZipFile(path, "w") as package:
        package.writestr("letter.txt", "hello")
    assert refusal(path) == "wrong_kind"


def test_a_workbook_cut_off_in_the_middle(tmp_path):
    path = repacked(
        workbook(tmp_path, [["name"], ["Ada"]]),
        lambda name, data: data[: len(data) // 2] if name.endswith("sheet1.xml") else data,
    )
    assert refusal(path) == "damaged"
