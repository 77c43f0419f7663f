"""Plan the look at the measures that a kick-off's end asks for."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people.models import User
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment
from clinic.visits.rules.plan import after_kick_off
from clinic.visits.vocab import ReassessmentReason
from programs.prescribing.models import Program
from programs.prescribing.rules.plan import Plan


def kick_off(plan: Plan) -> tuple[date, int] | None:
    """(first day, days) of the plan's kick-off phases together; None when it has none or one without an end."""
    days = [phase.days for phase in plan.phases if phase.kind == "kick_off"]
    known = [count for count in days if count is not None]
    return (plan.anchor, sum(known)) if known and len(known) == len(days) else None


@transaction.atomic
def plan_kick_off_review(
    *, by: User, program: Program, plan: Plan, now: datetime, before: Plan | None = None
) -> Reassessment | None:
    """The reassessment at the end of `plan`'s kick-off; None when that end is where it was in the plan `before`."""
    span = kick_off(plan)
    if span is None or (before is not None and span == kick_off(before)):
        return None
    window = after_kick_off(*span)
    return plan_reassessment(
        by=by, episode=program.episode, reason=ReassessmentReason.KICK_OFF_END, earliest=window.earliest,
        due=window.due, latest=window.latest, now=now,
    )
