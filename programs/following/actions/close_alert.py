"""A clinician has seen to a red-flag answer and says how."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.following.actions.follow_program import follow_program
from programs.following.models import Alert
from programs.following.queries import open_programs_of

MOST_NOTE = 2000


@transaction.atomic
def close_alert(*, by: User, alert: Alert, note: str, now: datetime) -> Alert:
    """Close it with a note. Refusal `invalid` (400) without one, `already_closed` (409); NotThere for who is no clinician."""
    if by.role != Role.CLINICIAN:
        raise NotThere
    if not 1 <= len(note.strip()) <= MOST_NOTE or "\x00" in note:
        sentence = f"Say in 1 to {MOST_NOTE} characters what you did about it."
        raise Refusal("invalid", sentence, status=400, fields={"note": sentence})
    alert = Alert.objects.select_for_update(of=("self",)).select_related("client").get(pk=alert.pk)
    if alert.closed_at is not None:
        raise Refusal("already_closed", "Somebody has closed this alert already.")
    alert.closed_at, alert.closed_by, alert.note = now, by, note.strip()
    alert.save(update_fields=["closed_at", "closed_by", "note"])
    audit.record(by=by, verb="close_alert", kind="alert", public_id=alert.public_id, at=now, client=alert.client)
    for program in open_programs_of(alert.client):
        follow_program(program=program, now=now)
    return alert
