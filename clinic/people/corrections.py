"""Doors and reads of what clients ask to have set right."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet

from clinic.people import looking
from clinic.people.models import Client, Correction, User
from clinic.people.queries import clients_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import CorrectionOutcome, Role

ANSWERERS = (Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD)


def own_corrections(user: User) -> QuerySet[Correction]:
    """What the client who is signed in asked for, the newest first, with the answers."""
    mine = Correction.objects.filter(client__user=user, client__archived__isnull=True)
    return mine.order_by("-asked", "-pk")


def own_waiting(user: User) -> bool:
    """Whether the client who is signed in waits for an answer."""
    return own_corrections(user).filter(outcome=CorrectionOutcome.OPEN).exists()


def open_corrections(user: User) -> QuerySet[Correction]:
    """What waits for an answer about clients this member of staff may see, the oldest first."""
    if user.role not in ANSWERERS:
        raise NotThere
    rows = Correction.objects.filter(
        outcome=CorrectionOutcome.OPEN, client__archived__isnull=True, client__in=clients_for(user)
    )
    return rows.select_related("client").order_by("asked", "pk")


def open_correction_of(user: User, client: Client) -> Correction | None:
    """What this client waits for, if anything."""
    return open_corrections(user).filter(client=client).first()


def correction_for(user: User, public_id: UUID | str) -> Correction:
    """One request, open or answered, of a client this member of staff may see."""
    if user.role not in ANSWERERS:
        raise NotThere
    rows = Correction.objects.filter(public_id=public_id, client__in=clients_for(user))
    found = rows.select_related("client__site", "answered_by__staff").first()
    if found is None:
        raise NotThere
    looking.note(user, found.client_id)
    return found
