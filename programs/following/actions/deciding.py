"""What accepting and altering a suggestion share: closing it, the plan behind it, the revision and the look that follow."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.vocab import ReassessmentReason
from programs.following.ladders import ladders_for
from programs.following.models import Suggestion
from programs.following.queries import today_of
from programs.following.rules import change
from programs.following.rules.change import Rung
from programs.following.vocab import SuggestionState
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import plans_of
from programs.prescribing.rules.plan import Plan

MOST_NOTE = 300


def close(row: Suggestion, state: SuggestionState, *, by: User, note: str, now: datetime) -> None:
    """Decide it. Before it is carried out: the program's change makes the rules look again. Refusal for too long a note."""
    if len(note) > MOST_NOTE or "\x00" in note:
        sentence = f"A note can have {MOST_NOTE} characters at most."
        raise Refusal("invalid", sentence, status=400, fields={"note": "Shorten it."})
    row.state, row.decided_by, row.decided_at, row.decision_reason = state, by, now, note.strip()
    row.save(update_fields=["state", "decided_by", "decided_at", "decision_reason"])


def plan_behind(row: Suggestion) -> Plan:
    """The plan the suggestion was made against."""
    return next(plan for revision, plan in plans_of(row.program) if revision.pk == row.revision_id)


def ladder_of(row: Suggestion, plan: Plan) -> Sequence[Rung]:
    """The levels of the exercise that the suggestion is about; empty for one about the whole program."""
    item = change.item_of(plan, row.item_key) if row.item_key else None
    return ladders_for(plan)[item.exercise] if item else ()


def first_day(row: Suggestion, now: datetime, chosen: date | None) -> date:
    """The day a change counts from: the one chosen, else tomorrow, never before the program."""
    return chosen or max(today_of(row.program, now) + timedelta(days=1), row.program.starts)


def as_made(row: Suggestion, plan: Plan, now: datetime, effective: date) -> Plan | None:
    """The plan as the suggestion itself would have it; None when the plan no longer allows that."""
    today = today_of(row.program, now)
    return change.carried_out(
        plan, row.kind, row.item_key, row.evidence["change"], today, effective, ladder_of(row, plan)
    )


def revise(row: Suggestion, plan: Plan | None, effective: date, *, by: User, reason: str, now: datetime) -> Revision:
    """Write the revision and tie it to the suggestion. Refusal `ground_gone` (409) when there is no plan to write."""
    if plan is None:
        raise Refusal("ground_gone", "The program no longer allows this change. Look at it and decide anew.")
    revision = revise_program(
        by=by, program=row.program, plan=plan, effective_from=effective, reason=reason, based_on=row.revision.number, now=now
    )
    row.resulting_revision = revision
    row.save(update_fields=["resulting_revision"])
    return revision


def look_again(by: User, program: Program, window: tuple[int, int, int], now: datetime) -> None:
    """Plan a reassessment on a flag: earliest, due and latest in days from the site's today."""
    today = zones.day_in(now, program.client.site.zone)
    earliest, due, latest = (today + timedelta(days=days) for days in window)
    plan_reassessment(
        by=by, episode=program.episode, reason=ReassessmentReason.FLAG, earliest=earliest, due=due, latest=latest, now=now
    )
