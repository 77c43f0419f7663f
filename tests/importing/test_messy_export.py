"""The invented clinic's export, from end to end."""

import csv
import io
import json
from pathlib import Path

import pytest
import time_machine
from django.apps import apps
from django.core.management import call_command

from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from tests.conftest import NOW

FOLDER = Path("fixtures/messy_export")


@pytest.fixture
def clinic(cast):
    """The cast's practice with the exercise library and the program templates loaded."""
    load_library()
    load_templates()
    return cast


def bring_in(tmp_path, *, dry_run=False, folder=FOLDER):
    """(what was printed, the report's rows) of one run of the command on 2 March 2026."""
    out, report = io.StringIO(), tmp_path / "report.csv"
    with time_machine.travel(NOW, tick=False):
        call_command(
            "import_sheets", str(folder), site="Harbour Lane", dry_run=dry_run, report=report, stdout=out, quiet=True
        )
    with report.open(encoding="utf-8-sig", newline="") as stream:
        return out.getvalue(), list(csv.DictReader(stream))


def counts():
    """Rows of every table there is."""
    return {model._meta.label: model._default_manager.count() for model in apps.get_models(include_auto_created=True)}


def planted():
    faults = json.loads((FOLDER / "faults.json").read_text(encoding="utf-8"))
    return {(fault["file"], fault["line"], fault["column"], fault["outcome"], fault["code"]) for fault in faults}


def reported(rows):
    return [(row["file"], int(row["line"]), row["column"], row["outcome"], row["code"]) for row in rows]


def test_the_report_names_each_planted_fault_and_nothing_else(clinic, tmp_path):
    _, rows = bring_in(tmp_path)
    found = reported(rows)
    assert set(found) == planted()
    assert len(found) == len(set(found))
