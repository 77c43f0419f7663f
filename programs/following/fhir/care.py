"""What is done at home: CarePlan with a Timing for every exercise of every phase."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from programs.following.fhir.people import Resource, goal_key, lean, reference
from programs.library.rules.dose import work_seconds
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import exercise_names, plans_of
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan, WeekdayName, phase_starts

DAY: dict[WeekdayName, str] = {
    "MO": "mon", "TU": "tue", "WE": "wed", "TH": "thu", "FR": "fri", "SA": "sat", "SU": "sun",
}
# FHIR R4 value set event-timing
WHEN = {"morning": "MORN", "midday": "NOON", "evening": "EVE"}
REPLACED = "revoked"   # an older revision of a program that has a newer one


def windows(plan: Plan) -> list[tuple[PhasePlan, date, date | None]]:
    """(phase, first day, last day or None) of each phase that is reached by date; what follows an open end has no day yet."""
    found = []
    for number, first in phase_starts(plan):
        phase = plan.phases[number - 1]
        ends = phase.days is not None and phase.advance == "by_date"
        found.append((phase, first, first + timedelta(days=(phase.days or 1) - 1) if ends else None))
    return found


def timing(phase: PhasePlan, first: date, last: date | None, seconds: int) -> Resource:
    """FHIR Timing of one session's share: sessions in full on the phase's days; `frequencyMax` stands when fewer will do."""
    fewest, most = phase.sessions.minimum, phase.sessions.full
    weekly = phase.days_per_week < 7 and not phase.weekdays
    repeat: Resource = {
        "boundsPeriod": lean({"start": first.isoformat(), "end": last.isoformat() if last else ""}),
        "duration": seconds, "durationUnit": "s",
        "frequency": fewest * (phase.days_per_week if weekly else 1), "period": 1, "periodUnit": "wk" if weekly else "d",
    }
    if most > fewest:
        repeat["frequencyMax"] = most * (phase.days_per_week if weekly else 1)
    if phase.weekdays:
        repeat["dayOfWeek"] = [DAY[day] for day in phase.weekdays]
    if phase.times:
        repeat["when"] = [WHEN[time] for time in phase.times]
    return {"repeat": repeat}


def _dose_words(item: ItemPlan) -> str:
    rounds = item.rounds.full
    sides = {"each": "each side", "left": "left side", "right": "right side"}.get(item.side, "both sides together")
    return f"{rounds} round{'s' if rounds != 1 else ''}, {work_seconds(item.dose, 'full')} s of work, {sides}"


def care_plan(program: Program, revision: Revision, plan: Plan, names: dict[str, str], newest: bool) -> Resource:
    """One revision; only the newest carries the program's status."""
    activities = [
        {"detail": lean({
            "kind": "ServiceRequest", "status": "in-progress" if newest and program.status == "active" else "unknown",
            "code": {"text": names.get(item.exercise, item.exercise)},
            "scheduledTiming": timing(phase, first, last, item.seconds("full")),
            "description": f"{_dose_words(item)}, level {item.level}",
            "goal": [reference("Goal", goal_key(program.episode))] if program.episode.goals else [],
        })}
        for phase, first, last in windows(plan) for item in plan.items
    ]
    replaces = [reference("CarePlan", older.public_id) for older in program.revisions.filter(number=revision.number - 1)]
    values: dict[str, Any] = {
        "resourceType": "CarePlan", "id": str(revision.public_id), "status": program.status if newest else REPLACED,
        "intent": "plan", "title": program.title, "subject": reference("Patient", program.client.public_id),
        "author": reference("Practitioner", program.clinician.public_id, program.clinician.name),
        "created": revision.at.isoformat(), "replaces": replaces,
        "period": lean({
            "start": revision.effective_from.isoformat(),
            "end": program.ended.isoformat() if newest and program.ended else "",
        }),
        "goal": [reference("Goal", goal_key(program.episode))] if program.episode.goals else [],
        "activity": activities,
    }
    return lean(values)


def care_plans(program: Program) -> list[Resource]:
    """Every revision of the program, oldest first."""
    held = plans_of(program)
    names = exercise_names({item.exercise for _, plan in held for item in plan.items})
    newest = held[-1][0] if held else None
    return [care_plan(program, revision, plan, names, newest=revision is newest) for revision, plan in held]
