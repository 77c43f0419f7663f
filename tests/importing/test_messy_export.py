"""The invented clinic's export, from end to end: tried, imported, and imported again."""

import json
from datetime import UTC, date, datetime
from types import SimpleNamespace

import pytest
from django.db import transaction

from clinic.booking.models import Appointment
from clinic.people.models import Client, Consent, Episode
from programs.following.models import SessionLog
from programs.prescribing.models import Program
from tests.importing.practice import MESSY, bring_in, open_practice, row_counts

pytestmark = pytest.mark.django_db   # each test reads inside a savepoint of the module's transaction


@pytest.fixture(scope="module")
def imported(django_db_setup, django_db_blocker, tmp_path_factory):
    """One dry run and two imports, with the rows of all tables counted around them."""
    report = tmp_path_factory.mktemp("report") / "report.csv"
    with django_db_blocker.unblock(), transaction.atomic():
        open_practice()
        before = row_counts()
        tried = bring_in(MESSY, report, dry_run=True)
        after_trial = row_counts()
        first = bring_in(MESSY, report)
        text = report.read_text(encoding="utf-8-sig")
        once = row_counts()
        second = bring_in(MESSY, report)
        yield SimpleNamespace(
            before=before, tried=tried, after_trial=after_trial, first=first, text=text, once=once, second=second,
            twice=row_counts(),
        )
        transaction.set_rollback(True)


def planted():
    faults = json.loads((MESSY / "faults.json").read_text(encoding="utf-8"))
    return sorted((fault["file"], fault["line"], fault["column"], fault["outcome"], fault["code"]) for fault in faults)


def reported(rows):
    return sorted((row["file"], int(row["line"]), row["column"], row["outcome"], row["code"]) for row in rows)


def totals(said):
    """{file: (new, updated, unchanged, refused)} of the printed summary."""
    lines = [line.split() for line in said.splitlines()]
    return {line[0]: tuple(map(int, line[1:])) for line in lines if len(line) == 5 and line[-1].isdigit()}


def test_a_dry_run_writes_nothing(imported):
    assert imported.after_trial == imported.before
    assert "Dry run: nothing was written." in imported.tried[0]


def test_a_dry_run_foresees_exactly_what_the_import_does(imported):
    assert imported.tried[1] == imported.first[1]
    assert totals(imported.tried[0]) == totals(imported.first[0])


def test_the_report_names_each_planted_fault_and_nothing_else(imported):
    assert reported(imported.first[1]) == planted()


def test_every_remark_says_what_is_wrong_and_how_to_mend_it(imported):
    assert all(row["what is wrong"] and row["how to mend it"] for row in imported.first[1])


def test_the_good_rows_arrive_once(imported):
    assert totals(imported.first[0]) == {
        "clients.csv": (26, 0, 0, 18), "visits.xlsx": (51, 0, 0, 22), "visits_2025.csv": (2, 0, 0, 2),
        "programs.csv": (12, 0, 0, 8), "logs.csv": (73, 0, 0, 14),
    }
    grown = {name: imported.once[name] - imported.before[name] for name in imported.once}
    assert grown["people.Client"] == 26
    assert grown["booking.Appointment"] == 53
    assert grown["prescribing.Program"] == grown["prescribing.Revision"] == 12
    assert grown["following.SessionLog"] == 73


def test_a_second_import_changes_no_row_of_any_table(imported):
    assert imported.twice == imported.once
    assert totals(imported.second[0]) == {
        "clients.csv": (0, 0, 26, 18), "visits.xlsx": (0, 0, 51, 22), "visits_2025.csv": (0, 0, 2, 2),
        "programs.csv": (0, 0, 12, 8), "logs.csv": (0, 0, 73, 14),
    }


def test_a_second_import_refuses_the_same_rows(imported):
    refused = [row for row in imported.first[1] if row["outcome"] == "refused"]
    assert reported(row for row in imported.second[1] if row["outcome"] == "refused") == reported(refused)


def test_it_says_what_it_understood(imported):
    said = imported.first[0]
    assert "Not UTF-8: read as Windows-1252." in said
    assert "Left aside: Diary." in said
    assert "clients.csv: Date of birth: read day first, because" in said
    assert "programs.csv: Start date: read month first, because" in said
    assert "day first or month first? No date in it decides; 2 dates are refused." in said


def test_the_report_runs_in_no_spreadsheet_program(imported):
    assert "'=cmd|' /C calc'!A0" in imported.text
    assert "'=HYPERLINK" in imported.text
    assert "'-5" in imported.text
    cells = [cell for row in imported.first[1] for cell in row.values()]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_names_keep_their_accents_and_phones_have_one_form(imported):
    angela = Client.objects.get(external_ref="1001")
    assert (angela.given_name, angela.family_name, angela.phone) == ("Ángela", "Núñez", "+441632960101")
    assert angela.birth_date == date(1981, 3, 14)
    assert Client.objects.get(external_ref="1018").family_name == "Žert"
    assert set(Client.objects.filter(external_ref__lt="1009").values_list("phone", flat=True)) == {
        "+441632960101", "+441632960102", "+441632960103", "+441632960104", "+441632960105", "+447700900106",
        "+447700900107", "+447700900108",
    }


def test_consent_is_what_the_sheet_says(imported):
    agreed = set(Consent.objects.filter(granted=True).values_list("client__external_ref", flat=True))
    assert {"1001", "1002", "1003", "1004", "1005", "1014"} <= agreed
    assert not {"1006", "1007", "1016"} & agreed


def test_local_times_became_instants(imported):
    starts = dict(Appointment.objects.values_list("external_ref", "starts"))
    assert starts["V001"] == datetime(2026, 1, 12, 9, tzinfo=UTC)
    assert starts["V803"] == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert starts["V804"] == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_a_client_is_found_by_a_decomposed_name(imported):
    assert Appointment.objects.get(external_ref="V002").client.external_ref == "1002"


def test_a_note_that_looks_like_a_formula_stays_text(imported):
    assert Appointment.objects.get(external_ref="V004").note == "=1+1"


def test_statuses_are_fhir_codes(imported):
    found = set(Appointment.objects.values_list("status", flat=True))
    assert found == {"booked", "fulfilled", "noshow", "cancelled"}


def test_each_program_hangs_in_an_episode_of_its_own_region(imported):
    assert Episode.objects.count() == 12
    first = Program.objects.get(external_ref="P001")
    assert (first.episode.region, first.episode.side, first.starts) == ("hip", "left", date(2026, 2, 2))
    assert {program.clinician.name for program in Program.objects.all()} == {"Rasmus Okoro", "Noor Halloran"}


def test_logs_carry_their_answers(imported):
    log = SessionLog.objects.get(program__external_ref="P001", day=date(2026, 2, 14))
    assert (log.source, log.pain_during, log.effort) == ("import", 1, 3)
    done = sorted(log.items.values_list("done_left", "done_right"))
    assert (20, 20) in done
    assert (40, 35) in done
