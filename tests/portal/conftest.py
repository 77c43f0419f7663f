"""Ada's home program: it started on Saturday 28 February, so that Monday 2 March is day 3 of a kick-off of 7."""

from __future__ import annotations

import uuid
from datetime import date

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from programs.library.models import Exercise, Level
from programs.library.rules.dose import Hold, Reps, Roll, Span, dose_to_json
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from tests.conftest import NOW

KICK_OFF = PhasePlan("kick_off", 7, Span(1, 2))
TAPER = PhasePlan("taper", 14, Span(1, 1), days_per_week=3)
MAINTENANCE = PhasePlan("maintenance", None, Span(1, 1), days_per_week=2)
PHASES = (KICK_OFF, TAPER, MAINTENANCE)
STARTS = date(2026, 2, 28)
HOLD = Hold(Span(2, 3), Span(30, 30), rest=10)
REPS = Reps(Span(2, 2), Span(10, 10), tempo=3, rest=30)
DRAWING = {"view": "side", "start": {}, "end": {"both": {"hip": 60, "knee": 40}}}
ROLL = Roll(Span(1, 1), Span(60, 60))


@pytest.fixture(autouse=True)
def clock():
    """The clock stands at NOW; clock.move_to(moment) moves it."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def exercises(db) -> list[Exercise]:
    """Three invented exercises with one level each: a hold, a movement, a roll."""
    made = []
    for slug, name, kind, dose in (
        ("half-kneel", "Half-kneeling lean", "static_stretch", HOLD),
        ("hip-lift", "Hip lift", "strength", REPS),
        ("thigh-roll", "Thigh roll", "rolling", ROLL),
    ):
        exercise = Exercise.objects.create(
            slug=slug, name=name, region="hip", kind=kind, side="each", setup="Kneel on the left knee.",
            feel="A pull in front", not_feel="A pinch in the back",
        )
        Level.objects.create(
            exercise=exercise, number=1, name="Easy", cues=["Breathe out slowly"], dose=dose_to_json(dose),
            drawing=DRAWING,
        )
        made.append(exercise)
    return made


def items(count: int) -> tuple[ItemPlan, ...]:
    made = (
        ItemPlan(uuid.UUID(int=1), "half-kneel", 1, HOLD, side="each", note="Keep it small"),
        ItemPlan(uuid.UUID(int=2), "hip-lift", 1, REPS, side="both"),
        ItemPlan(uuid.UUID(int=3), "thigh-roll", 1, ROLL, side="left"),
    )
    return made[:count]


@pytest.fixture
def prescribe(cast, exercises):
    """prescribe(starts=…, count=…, phases=…, episode=…) -> a program by the episode's own clinician."""

    def given(*, starts=STARTS, count=3, phases=PHASES, episode=None, title="Hip at home", now=NOW):
        episode = episode or cast.ada_hip
        return prescribe_program(
            by=episode.lead.user, episode=episode, plan=Plan(starts, phases, items(count)), title=title, starts=starts,
            now=now,
        )

    return given


@pytest.fixture
def program(prescribe):
    return prescribe()


@pytest.fixture
def writes():
    """with writes() as made: …  leaves the statements that changed the database in `made.found()`."""

    class Captured(CaptureQueriesContext):
        def found(self):
            verbs = ("INSERT", "UPDATE", "DELETE")
            return [query["sql"] for query in self.captured_queries if query["sql"].lstrip().upper().startswith(verbs)]

    return lambda: Captured(connection)
