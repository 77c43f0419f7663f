"""The command: exit codes, what it prints, and who imports."""

import io

import pytest
from django.core.management import CommandError, call_command

from clinic.people.models import AuditEvent, Client

LINES = "Client No,First name,DOB\n1,Luz,1980-01-31\n2,,1980-01-31\n"


def call(*paths, **options):
    out = io.StringIO()
    call_command("import_sheets", *map(str, paths), **{"site": "Harbour Lane", "stdout": out, "quiet": True, **options})
    return out.getvalue()


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "clients.csv"
    path.write_text(LINES, encoding="utf-8")
    return path


def test_refused_rows_are_no_failure(cast, sheet):
    said = call(sheet)
    assert "Refused: clients.csv, line 3, First name: First name is empty. Fill it in." in said
    assert Client.objects.filter(external_ref="1").exists()


def test_one_file_that_cannot_be_read_and_nothing_is_imported(cast, sheet, tmp_path):
    (tmp_path / "scan.csv").write_bytes(b"%PDF-1.7")
    with pytest.raises(CommandError, match=r"scan\.csv is a PDF") as stopped:
        call(tmp_path)
    assert stopped.value.returncode == 2
    assert not Client.objects.filter(external_ref="1").exists()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"site": "Elsewhere"}, "no site called"), ({"by": "nobody@harbour.example"}, "nobody who works"),
        ({"by": "gone@harbour.example"}, "nobody who works"), ({"by": "ada@client.example"}, "nobody who works"),
    ],
)
def test_the_site_and_the_importer_must_be_known(cast, sheet, options, said):
    with pytest.raises(CommandError, match=said) as stopped:
        call(sheet, **options)
    assert stopped.value.returncode == 2


def test_the_record_names_who_imported(cast, sheet):
    call(sheet, by="lou@harbour.example")
    assert AuditEvent.objects.get(verb="register_client").by == cast.lead.user


def test_an_empty_folder_says_so(cast, tmp_path):
    with pytest.raises(CommandError, match="no CSV or XLSX"):
        call(tmp_path)


def test_its_own_report_in_the_same_folder_is_not_read(cast, sheet, tmp_path):
    for _ in range(2):
        assert "Done." in call(tmp_path, report=tmp_path / "report.csv")


def test_the_report_is_its_owners_alone(cast, sheet, tmp_path):
    call(sheet, report=tmp_path / "out.csv")
    assert (tmp_path / "out.csv").stat().st_mode & 0o077 == 0
    with pytest.raises(CommandError, match="report cannot be written"):
        call(sheet, report=tmp_path)


def test_a_column_that_does_not_say_can_be_told(cast, tmp_path):
    path = tmp_path / "clients.csv"
    path.write_text("Client No,First name,DOB\n1,Luz,03/04/1980\n", encoding="utf-8")
    assert "ambiguous" not in call(path, dates="mdy")
    assert Client.objects.get(external_ref="1").birth_date.isoformat() == "1980-03-04"


def test_nothing_of_a_persons_own_is_printed(cast, tmp_path):
    path = tmp_path / "clients.csv"
    path.write_text("Client No,First name,Surname,DOB\n1,Luz,Quillington,30/02/1980\n", encoding="utf-8")
    said = call(path)
    assert "Quillington" not in said
    assert "1980" not in said
