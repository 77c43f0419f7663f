"""Client or clinician says that they have read what the other side wrote."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from programs.following.models import Note, NoteRead
from programs.prescribing.models import Program
from programs.prescribing.queries import locked, programs_for


@transaction.atomic
def read_notes(*, by: User, program: Program, until: UUID, now: datetime) -> int:
    """Everything of the other side up to the note `until`, which was the newest on the screen; the number newly read.

    A note that came in since stays unread. A lead looks on and reads for nobody: NotThere, as for the desk and strangers.
    """
    if by.role not in (Role.CLIENT, Role.CLINICIAN) or not programs_for(by).filter(pk=program.pk).exists():
        raise NotThere
    return mark_read(by, locked(program), until, now)


def mark_read(by: User, program: Program, until: UUID, now: datetime) -> int:
    """The same inside a transaction that holds the program's row."""
    last = Note.objects.filter(program=program, note_id=until).only("at", "pk").first()
    if last is None:
        return 0
    waiting = Note.objects.filter(
        Q(at__lt=last.at) | Q(at=last.at, pk__lte=last.pk), program=program, from_client=by.role != Role.CLIENT,
        read__isnull=True,
    )
    read = NoteRead.objects.bulk_create(NoteRead(note=note, at=now, by=by) for note in waiting)
    if read:
        audit.record(
            by=by, verb="read_notes", kind="program", public_id=program.public_id, at=now, client=program.client,
            notes=len(read),
        )
    return len(read)
