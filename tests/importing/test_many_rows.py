"""A long sheet of logs with faults on known lines, on a small scale: told exactly, taken once, mended and brought in again.

The same at a million rows, with memory and time, is the benchmark `importing`.
"""

import csv
from datetime import date

import pytest

from clinic.people.importing import reading_csv
from clinic.people.importing import run as engine
from clinic.people.importing.refused import RefusedRows
from clinic.people.importing.sheet import all_sheets
from clinic.people.models import AuditEvent, Client
from programs.following.models import SessionLog
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from tests.importing import many_rows
from tests.importing.test_logs_together import BOS
from tests.importing.test_program_and_log_sheets import ADAS, PROGRAMS
from tests.importing.test_run import laid, run

FIRST, ROWS, FAULTY = date(2026, 2, 18), 24, 5


@pytest.fixture
def two(cast, tmp_path):
    load_library()
    load_templates()
    assert run(laid(tmp_path, PROGRAMS + ADAS + "\n" + BOS + "\n"), cast.site, all_sheets()).counts == {"new": 2}
    for number, client in enumerate((cast.ada, cast.bo), start=1):
        Client.objects.filter(pk=client.pk).update(external_ref=str(number))
    return cast


def test_every_fault_is_told_by_its_line_and_the_mended_rows_come_in(two, tmp_path, monkeypatch):
    monkeypatch.setattr(engine, "TOGETHER", 7)
    path, folder = tmp_path / "logs.csv", tmp_path / "refused"
    folder.mkdir()
    wrong = many_rows.write(path, ["1", "2"], FIRST, ROWS, FAULTY)

    tried = run(path, two.site, all_sheets(), dry_run=True)
    assert SessionLog.objects.count() == 0
    with RefusedRows(folder) as refused:
        done = run(path, two.site, all_sheets(), keep=refused.keep)
    for told in (tried, done):
        assert told.counts == {"new": ROWS - FAULTY, "refused": FAULTY}
        assert [(entry.line, entry.code) for entry in told.entries] == wrong
    assert SessionLog.objects.count() == ROWS - FAULTY == AuditEvent.objects.filter(verb="log_session").count()

    again = run(path, two.site, all_sheets())
    assert again.counts == {"unchanged": ROWS - FAULTY, "refused": FAULTY}
    assert SessionLog.objects.count() == ROWS - FAULTY

    [kept] = folder.iterdir()
    assert kept.stat().st_mode & 0o077 == 0
    with kept.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [int(row["line in the sheet"]) for row in rows] == [line for line, _ in wrong]
    assert rows[0]["Date"] == "2026-02-30"
    assert "left open" in rows[3]["the row as it stood"]

    rows[0] |= {"Date": "2026-02-20"}
    rows[1] |= {"Pain": "1"}
    rows[2] |= {"Client No": "1"}
    rows[3] |= {"Log ID": "L99", "Client No": "2", "Date": "2026-02-28", "Done": "yes"}
    mended = tmp_path / "mended.csv"
    with mended.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    # the fifth told the row above it twice, so here it stands as it does already
    assert run(mended, two.site, all_sheets()).counts == {"new": 4, "unchanged": 1}


def test_what_a_spreadsheet_would_run_is_defused_in_the_file_of_refused_rows(two, tmp_path):
    path = tmp_path / "logs.csv"
    path.write_text(many_rows.HEAD + 'L1,1,2026-02-30,1,yes,1,1,,"=HYPERLINK(""x"")"\n', encoding="utf-8")
    with RefusedRows(tmp_path) as refused:
        run(path, two.site, all_sheets(), keep=refused.keep)
    text = (tmp_path / "logs.refused.csv").read_text("utf-8-sig")
    assert "'=HYPERLINK" in text
    table = reading_csv.table(tmp_path / "logs.refused.csv")
    assert list(table.rows())[1].cells[8] == '\'=HYPERLINK("x")'
