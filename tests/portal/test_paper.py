"""The client's program on paper, the fixed days by name, and drawings that move."""

from __future__ import annotations

import pytest

from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan

FIXED = (
    PhasePlan("kick_off", 7, Span(1, 2), 7, "by_decision", times=("morning", "evening")),
    PhasePlan("maintenance", None, Span(1, 1), 3, weekdays=("MO", "WE", "FR"), times=("midday",)),
)


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


def words(answer):
    return " ".join(answer.content.decode().split())


def test_the_client_opens_the_handout_of_their_own_program_from_their_weeks(ada, program):
    address = f"/portal/programs/{program.public_id}/handout.pdf"
    assert f'href="{address}"' in words(ada.get("/portal/weeks/"))
    paper = ada.get(address)
    assert paper["Content-Type"] == "application/pdf"
    assert paper["Content-Disposition"] == 'inline; filename="handout.pdf"'
    assert paper.content.startswith(b"%PDF-")


@pytest.mark.usefixtures("program")
def test_nobody_elses_opens(cast, prescribe, ada):
    other = prescribe(episode=cast.bo_neck)
    assert ada.get(f"/portal/programs/{other.public_id}/handout.pdf").status_code == 404


def test_fixed_days_and_times_are_said_by_name(ada, prescribe):
    prescribe(phases=FIXED)
    said = words(ada.get("/portal/weeks/"))
    assert "1 session a day, every Monday, Wednesday and Friday." in said
    assert "At midday." in said
    assert "In the morning and in the evening." in said


def test_and_in_spanish(cast, ada, prescribe):
    prescribe(phases=FIXED)
    cast.ada.language = "es"
    cast.ada.save()
    said = words(ada.get("/portal/weeks/"))
    assert "cada lunes, miércoles y viernes" in said
    assert "Por la mañana y por la noche." in said
    assert "Su programa en papel (PDF)" in said


def test_the_api_names_them_too(ada, prescribe):
    prescribe(phases=FIXED)
    phases = ada.get("/api/v1/me/weeks").json()["phases"]
    assert [(phase["weekdays"], phase["times"]) for phase in phases] == [
        ([], ["morning", "evening"]), (["MO", "WE", "FR"], ["midday"])
    ]
