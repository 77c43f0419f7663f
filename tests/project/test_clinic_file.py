"""Setting up a clinic from its file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from clinic.booking.models import Room, VisitType, WorkingHours
from clinic.people.models import Site, Staff, User
from clinic.project.clinic_file import BadClinicFile, load_clinic

FILE = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "clinic.json"
pytestmark = pytest.mark.django_db


def changed(tmp_path, change) -> Path:
    data = json.loads(FILE.read_text("utf-8"))
    change(data)
    path = tmp_path / "clinic.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def counts() -> list[int]:
    return [model.objects.count() for model in (Site, Room, VisitType, User, Staff, WorkingHours)]


def test_loading_it_twice_gives_one_clinic():
    load_clinic(FILE)
    once = counts()
    load_clinic(FILE)
    assert counts() == once == [1, 3, 4, 5, 5, 3]


def test_what_the_file_changes_is_changed(tmp_path):
    load_clinic(FILE)
    load_clinic(changed(tmp_path, lambda data: data["rooms"][0].update(features=["step_free"])))
    assert Room.objects.get(name="Harbour room").features == ["step_free"]


def test_nobody_gets_a_password():
    load_clinic(FILE)
    assert not any(user.has_usable_password() for user in User.objects.all())


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (lambda data: data.pop("site"), "site: is missing"),
        (lambda data: data["site"].update(zone="Mars/Olympus"), "site.zone"),
        (lambda data: data["rooms"][1].update(colour="red"), r"rooms\[1\].colour"),
        (lambda data: data["visit_types"][0].update(minutes=0), r"visit_types\[0\]"),
        (lambda data: data["visit_types"][0].update(names={"es": " "}), r"visit_types\[0\]\.names: must be a name for each"),
        (lambda data: data["visit_types"][1].update(names="Seguimiento"), r"visit_types\[1\]\.names: must be a name"),
        (lambda data: data["staff"][0].update(role="client"), r"staff\[0\].role"),
        (lambda data: data["staff"][1]["hours"][0].update(rule="FREQ=OFTEN"), r"staff\[1\].hours\[0\].rule"),
        (lambda data: data["staff"][1]["hours"][0].update(ends="08:00"), r"staff\[1\].hours\[0\]"),
    ],
)
def test_what_is_wrong_is_named_by_its_place_and_nothing_is_changed(tmp_path, change, where):
    with pytest.raises(BadClinicFile, match=where):
        load_clinic(changed(tmp_path, change))
    assert counts() == [0] * 6


def test_the_command_loads_the_library_too(capsys):
    call_command("set_up_clinic", str(FILE))
    assert "Tidewater Lane is set up" in capsys.readouterr().out
    from programs.library.models import Exercise

    assert Exercise.objects.exists()


def test_the_command_names_a_missing_file():
    with pytest.raises(CommandError, match="no file"):
        call_command("set_up_clinic", "nowhere.json")
