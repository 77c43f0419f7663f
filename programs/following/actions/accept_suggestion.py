"""A clinician says yes to a suggestion: what it proposes is done, by them and in their name."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from programs.following.actions import deciding
from programs.following.actions.decline_suggestion import open_and_locked
from programs.following.models import Suggestion
from programs.following.vocab import SuggestionKind, SuggestionState
from programs.prescribing.actions.pause_program import pause_program

FLAG_WINDOW = (1, 3, 7)       # days from today: earliest, due, latest (common practice, no source)
REFER_WINDOW = (0, 1, 3)
REASONS = {
    SuggestionKind.PROGRESS: "Suggestion accepted: one step harder",
    SuggestionKind.REGRESS: "Suggestion accepted: one step easier",
    SuggestionKind.TAPER: "Suggestion accepted: the next step down",
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
    deciding.close(row, SuggestionState.ACCEPTED, by=by, note=note, now=now)
    kind = SuggestionKind(row.kind)
    if kind in REASONS:
        effective = deciding.first_day(row, now, effective_from)
        plan = deciding.as_made(row, deciding.plan_behind(row), now, effective)
        deciding.revise(row, plan, effective, by=by, reason=REASONS[kind], now=now)
    elif kind == SuggestionKind.REASSESS:
        deciding.look_again(by, row.program, FLAG_WINDOW, now)
    elif kind == SuggestionKind.PAUSE_AND_REFER:
        pause_program(by=by, program=row.program, reason="Suggestion accepted: pause and refer", now=now)
        deciding.look_again(by, row.program, REFER_WINDOW, now)
    audit.record(
        by=by, verb="accept_suggestion", kind="suggestion", public_id=row.public_id, at=now, client=row.program.client,
        suggested=row.kind, revision=row.resulting_revision.number if row.resulting_revision else None,
    )
    return row
