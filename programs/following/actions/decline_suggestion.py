"""A clinician says no to a suggestion, and why."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.following.models import Suggestion
from programs.following.vocab import SuggestionState
from programs.prescribing.queries import locked

MOST_REASON = 300


@transaction.atomic
def decline_suggestion(*, by: User, suggestion: Suggestion, reason: str, now: datetime) -> Suggestion:
    """Close it with the reason. It is not made again for some days (`rest.days` of the rule set).

    Refusal `invalid` (400) without a reason, `already_decided` (409); NotThere for who is no clinician.
    """
    if not 1 <= len(reason.strip()) <= MOST_REASON or "\x00" in reason:
        sentence = f"Say in 1 to {MOST_REASON} characters why not."
        raise Refusal("invalid", sentence, status=400, fields={"reason": sentence})
    suggestion = open_and_locked(by=by, suggestion=suggestion)
    suggestion.state, suggestion.decided_by, suggestion.decided_at = SuggestionState.DECLINED, by, now
    suggestion.decision_reason = reason.strip()
    suggestion.save(update_fields=["state", "decided_by", "decided_at", "decision_reason"])
    audit.record(
        by=by, verb="decline_suggestion", kind="suggestion", public_id=suggestion.public_id, at=now,
        client=suggestion.program.client, suggested=suggestion.kind,
    )
    return suggestion


def open_and_locked(*, by: User, suggestion: Suggestion) -> Suggestion:
    """The suggestion as it is now, locked; only a clinician decides, and only while it is open."""
    if by.role != Role.CLINICIAN:
        raise NotThere
    # the program first, as every write of following does: two orders would wait for each other
    locked(suggestion.program)
    row = (
        Suggestion.objects.select_for_update(of=("self",))
        .select_related("program__client__site", "program__episode", "program__clinician", "revision")
        .get(pk=suggestion.pk)
    )
    if row.state != SuggestionState.OPEN:
        raise Refusal(
            "already_decided", f"This suggestion is no longer open: {row.get_state_display().lower()}.", state=row.state
        )
    return row
