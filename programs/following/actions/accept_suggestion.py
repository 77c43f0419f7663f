"""A clinician says yes to a suggestion: what it proposes is done, by them and in their name."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.vocab import ReassessmentReason
from programs.following.actions.decline_suggestion import open_and_locked
from programs.following.models import Suggestion
from programs.following.queries import ladders_for, today_of
from programs.following.rules import change
from programs.following.vocab import SuggestionKind, SuggestionState
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import plans_of
from programs.prescribing.rules.plan import Plan

FLAG_WINDOW = (1, 3, 7)       # days from today: earliest, due, latest (common practice, no source)
REFER_WINDOW = (0, 1, 3)
CHANGES_THE_PLAN = {
    SuggestionKind.PROGRESS, SuggestionKind.REGRESS, SuggestionKind.TAPER, SuggestionKind.EXTEND_KICK_OFF,
}
REASONS = {
    SuggestionKind.PROGRESS: "Suggestion accepted: one step harder",
    SuggestionKind.REGRESS: "Suggestion accepted: one step easier",
    SuggestionKind.TAPER: "Suggestion accepted: begin the taper",
    SuggestionKind.EXTEND_KICK_OFF: "Suggestion accepted: a longer kick-off",
}


@transaction.atomic
def accept_suggestion(
    *, by: User, suggestion: Suggestion, now: datetime, effective_from: date | None = None, note: str = ""
) -> Suggestion:
    """Progress, regress, taper and a longer kick-off write a new revision, effective tomorrow unless said otherwise;
    reassess plans a look; pause and refer pauses and plans one soon; contact is closed with the note.

    Refusal: `already_decided` (409), `ground_gone` (409) when the plan no longer allows it, and those of the actions it
    calls (`changed_meanwhile` 412, `contraindicated` 409); nothing is saved then. NotThere for who is no clinician.
    """
    row = open_and_locked(by=by, suggestion=suggestion)
    if len(note) > 300 or "\x00" in note:
        raise Refusal("invalid", "A note can have 300 characters at most.", status=400, fields={"note": "Shorten it."})
    row.state, row.decided_by, row.decided_at = SuggestionState.ACCEPTED, by, now
    row.decision_reason = note.strip()
    # closed before it is carried out: the program's change makes the rules look again
    row.save(update_fields=["state", "decided_by", "decided_at", "decision_reason"])
    if row.kind in CHANGES_THE_PLAN:
        row.resulting_revision = _revise(by, row, effective_from, now)
        row.save(update_fields=["resulting_revision"])
    elif row.kind == SuggestionKind.REASSESS:
        _look_again(by, row.program, FLAG_WINDOW, now)
    elif row.kind == SuggestionKind.PAUSE_AND_REFER:
        pause_program(by=by, program=row.program, reason="Suggestion accepted: pause and refer", now=now)
        _look_again(by, row.program, REFER_WINDOW, now)
    audit.record(
        by=by, verb="accept_suggestion", kind="suggestion", public_id=row.public_id, at=now, client=row.program.client,
        suggested=row.kind, revision=row.resulting_revision.number if row.resulting_revision else None,
    )
    return row


def _revise(by: User, row: Suggestion, effective_from: date | None, now: datetime) -> Revision:
    today = today_of(row.program, now)
    effective = effective_from or max(today + timedelta(days=1), row.program.starts)
    plan = next(plan for revision, plan in plans_of(row.program) if revision.pk == row.revision_id)
    changed = _changed(row, plan, today, effective)
    if changed is None:
        raise Refusal("ground_gone", "The program no longer allows this change. Look at it and decide anew.")
    return revise_program(
        by=by, program=row.program, plan=changed, effective_from=effective, reason=REASONS[SuggestionKind(row.kind)],
        based_on=row.revision.number, now=now,
    )


def _changed(row: Suggestion, plan: Plan, today: date, effective: date) -> Plan | None:
    item = change.item_of(plan, row.item_key) if row.item_key else None
    ladder = ladders_for(plan).get(item.exercise, []) if item else []
    return change.carried_out(plan, row.kind, row.item_key, row.evidence["change"], today, effective, ladder)


def _look_again(by: User, program: Program, window: tuple[int, int, int], now: datetime) -> None:
    today = zones.day_in(now, program.client.site.zone)
    earliest, due, latest = (today + timedelta(days=days) for days in window)
    plan_reassessment(
        by=by, episode=program.episode, reason=ReassessmentReason.FLAG, earliest=earliest, due=due, latest=latest, now=now
    )
