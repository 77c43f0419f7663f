"""The report: what is kept, and cells that no spreadsheet program runs."""

import csv
import io

import pytest

from clinic.people.importing.cells import as_text, guarded, shortened
from clinic.people.importing.report import HEADINGS, KEPT, Entry, Report, csv_sink


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "\n=1", "＝1", "＋1", "－1", "＠x"])
def test_text_that_would_run_gets_an_apostrophe_and_loses_it_again(text):
    assert guarded(text) == f"'{text}"
    assert as_text(guarded(text)) == text.strip() or as_text(guarded(text)) == text


@pytest.mark.parametrize("value", [-5, -0.5, 7, "plain", "a=b", "'tis", "", None])
def test_everything_else_stays(value):
    assert guarded(value) == value
    assert type(guarded(value)) is type(value)


def test_a_value_is_shown_short_and_on_one_line():
    assert shortened("a\x00b\nc") == "a␀b␊c"
    assert shortened("x" * 100) == "x" * 39 + "…"
    assert shortened(None) == ""


def entry(line):
    return Entry("a.csv", line, "Pain", "refused", "out_of_range", "-1", "=wrong", "mend")


def test_it_is_written_as_it_comes():
    stream = io.StringIO(newline="")
    csv_sink(stream)(entry(2))
    assert list(csv.reader(io.StringIO(stream.getvalue(), newline=""))) == [
        list(HEADINGS), ["a.csv", "2", "Pain", "refused", "out_of_range", "'-1", "'=wrong", "mend"],
    ]


def test_only_the_first_entries_are_held():
    report = Report()
    for line in range(KEPT + 50):
        report.add(entry(line))
        report.count("a.csv", "refused")
    assert len(report.entries) == KEPT
    assert report.total("refused") == KEPT + 50
