"""A small exercise library and a plan that Mina gives Ada."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from uuid import UUID

import pytest

from programs.library.models import Exercise, Level, Precaution
from programs.library.rules.dose import Hold, Reps, Roll, Span, dose_to_json
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan

REPS = Reps(Span(1, 2), Span(8, 12), tempo=4, rest=20)
HOLD = Hold(Span(2, 3), Span(10, 20), rest=10)
ROLL = Roll(Span(1, 2), Span(45, 60), pass_seconds=4, rest=10)


@pytest.fixture
def library(db) -> SimpleNamespace:
    """clamshell (two levels), side-plank (two levels), roll-glute (one level; not with a blood clot)."""
    made = {}
    for slug, name, kind, dose, levels in (
        ("clamshell", "Clamshell", "strength", REPS, 2),
        ("side-plank", "Side plank", "strength", HOLD, 2),
        ("roll-glute", "Glute roll", "rolling", ROLL, 1),
    ):
        exercise = Exercise.objects.create(
            slug=slug, name=name, region="hip", kind=kind, side="each", setup="Lie on your side.", setup_seconds=15,
            feel="Work at the side of the hip.", not_feel="Pain in the back.",
        )
        for number in range(1, levels + 1):
            Level.objects.create(
                exercise=exercise, number=number, name=f"Step {number}", cues=["Slowly."], dose=dose_to_json(dose)
            )
        made[slug.replace("-", "_")] = exercise
    Precaution.objects.create(
        exercise=made["roll_glute"], condition="dvt", severity="do_not", reason="A clot can come loose."
    )
    Precaution.objects.create(
        exercise=made["clamshell"], condition="recent_surgery", severity="caution", reason="Ask the surgeon how far."
    )
    return SimpleNamespace(**made)


@pytest.fixture
def plan(now) -> Plan:
    """A week once or twice a day, decided on; two weeks of four days; then twice a week. Two exercises."""
    return Plan(
        now.date(),
        (
            PhasePlan("kick_off", 7, Span(1, 2), 7, "by_decision"), PhasePlan("taper", 14, Span(1, 1), 4),
            PhasePlan("maintenance", None, Span(1, 1), 2),
        ),
        (
            ItemPlan(UUID(int=1), "clamshell", 1, REPS, "each", setup_seconds=15),
            ItemPlan(UUID(int=2), "side-plank", 1, HOLD, "each", setup_seconds=15, priority=2),
        ),
    )


@pytest.fixture
def by_date(plan) -> Plan:
    """The same plan, its kick-off ending by date."""
    return replace(plan, phases=(replace(plan.phases[0], advance="by_date"), *plan.phases[1:]))


@pytest.fixture
def program(cast, library, plan, now):
    """Ada's hip program by Mina, from today."""
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip start", starts=now.date(), now=now
    )
