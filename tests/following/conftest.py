"""Ada's hip program: a kick-off of a week that waits for a decision, a taper, and what stays.

Three items of the test library: `bridge` (10 repetitions, both sides together, three levels), `hip-stretch` (held, each
side, one level) and `roll-thigh` (rolled, left). It starts on the cast's Monday, 2 March 2026.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

import pytest

from programs.following import recent
from programs.following.actions import follow_program as following
from programs.following.actions.load_rule_set import load_rule_set
from programs.following.actions.log_session import log_session
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.library.models import Exercise, Level
from programs.library.rules.dose import Hold, Reps, Roll, Span, dose_to_json
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Revision
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan

START = date(2026, 3, 2)
BRIDGE, STRETCH, ROLL = (UUID(int=number) for number in (1, 2, 3))
TEN = Reps(Span(1, 2), Span(8, 10), tempo=4)
LONG_HOLD = Hold(Span(1, 2), Span(30, 30))
THIGH = Roll(Span(1, 2), Span(45, 60))
LEVELS = {
    "bridge": ("strength", [TEN, Reps(Span(1, 2), Span(6, 8), tempo=4), Reps(Span(2, 3), Span(6, 8), tempo=4)]),
    "hip-stretch": ("static_stretch", [LONG_HOLD]),
    "roll-thigh": ("rolling", [THIGH]),
}


def hip_plan(anchor: date = START) -> Plan:
    return Plan(
        anchor=anchor,
        phases=(
            PhasePlan("kick_off", 7, Span(1, 2), advance="by_decision"),
            PhasePlan("taper", 14, Span(1, 1), days_per_week=4),
            PhasePlan("maintenance", None, Span(1, 1), days_per_week=2),
        ),
        items=(
            ItemPlan(BRIDGE, "bridge", 1, TEN, "both", Span(1, 1), 20),
            ItemPlan(STRETCH, "hip-stretch", 1, LONG_HOLD, "each", Span(1, 1), 20),
            ItemPlan(ROLL, "roll-thigh", 1, THIGH, "left", Span(1, 1), 20),
        ),
    )


def done(
    *, share: float = 1.0, reps: int | None = None, rating: str = "", skipped: str = "", keys=(BRIDGE, STRETCH, ROLL)
) -> tuple[ItemEntry, ...]:
    """The whole dose of every item, times `share`; `reps`, `rating` and `skipped` are the bridge's."""
    seconds = {BRIDGE: (80, 0), STRETCH: (60, 60), ROLL: (120, 0)}
    return tuple(
        ItemEntry(
            key, *(0 if key == BRIDGE and skipped else round(side * share) for side in seconds[key]),
            reps_last_set=reps if key == BRIDGE else None, rating=rating if key == BRIDGE else "",
            skipped=skipped if key == BRIDGE else "",
        )
        for key in keys
    )


@pytest.fixture
def shelf(db) -> None:
    """The exercises of the program in the library."""
    for slug, (kind, doses) in LEVELS.items():
        exercise = Exercise.objects.create(
            slug=slug, name=slug.replace("-", " ").capitalize(), region="hip", kind=kind, side="each", setup="Lie down.",
            feel="Work", not_feel="Pain",
        )
        for number, dose in enumerate(doses, start=1):
            Level.objects.create(exercise=exercise, number=number, name=f"Level {number}", dose=dose_to_json(dose))


@pytest.fixture
def program(cast, shelf, now):
    load_rule_set(now=now)
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=hip_plan(), title="Hip", starts=START, now=now
    )


@pytest.fixture
def report(cast, program, now):
    """report(day, …) -> the outcome of one session of Ada's, logged at nine that day (0 is the first)."""

    def log(day: int, *, items=None, log_id=None, edit=0, revision=None, at: datetime | None = None, **answers):
        shown = revision or Revision.objects.filter(program=program).latest("number")
        entry = SessionEntry(
            log_id or uuid4(), edit, shown.public_id, START + timedelta(days=day), items=done() if items is None else items,
            **answers,
        )
        return log_session(by=cast.ada.user, program=program, entry=entry, now=at or now + timedelta(days=day))

    return log


@pytest.fixture
def short(monkeypatch):
    """The end of the history is fourteen reports and two days: no more than the rules look at."""
    monkeypatch.setattr(recent, "ROWS", 14)
    monkeypatch.setattr(recent, "WEEK", timedelta(days=2))


@pytest.fixture
def ways(monkeypatch):
    """How often the end of the history was enough, and how often the whole was read."""
    taken = {"recent": 0, "whole": 0}
    for name in taken:
        monkeypatch.setattr(following, f"_{name}", _counting(taken, name, getattr(following, f"_{name}")))
    return taken


def _counting(taken, name, way):
    def counted(*args):
        found = way(*args)
        taken[name] += found is not None
        return found

    return counted
