"""Client or clinician writes a short note about a program or one of its sessions; an answer is one as well."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.reminders.actions.queue_message import queue_message
from programs.following.actions.read_notes import mark_read
from programs.following.models import Note
from programs.following.notes import first_unread, session_named
from programs.following.rules import notes
from programs.prescribing.models import Program
from programs.prescribing.queries import locked, programs_for
from programs.prescribing.vocab import ProgramStatus

MOST_A_DAY = 50                    # of one writer in one program: more is a fault or a nuisance
USEFUL = timedelta(days=3)         # a later mail would tell of something long said at a visit
KIND = "note_waiting"


@transaction.atomic
def write_note(
    *, by: User, program: Program, note_id: UUID, text: str, now: datetime, log_id: UUID | None = None,
    read_until: UUID | None = None,
) -> Note:
    """Once per `note_id`. `log_id` says which session it is about; writing tells that notes up to `read_until` were read.

    The first note that waits for the client leaves a mail that says no more than that there is one. Refusal: `invalid`
    (400) by field, `not_given`, `note_id_taken` (409), `too_many` (429). NotThere for the lead, the desk and strangers.
    """
    if by.role not in (Role.CLIENT, Role.CLINICIAN) or not programs_for(by).filter(pk=program.pk).exists():
        raise NotThere
    program = locked(program)
    held = Note.objects.filter(note_id=note_id).select_related("log", "read").first()
    if held is not None:
        if held.program_id != program.pk or held.by_id != by.pk:
            raise _taken()
        return held
    session = session_named(program, log_id) if log_id else None
    wrong = {}
    if sentence := notes.problem(text):
        wrong["text"] = sentence
    if log_id and session is None:
        wrong["log_id"] = "There is no such session in this program."
    if wrong:
        raise Refusal("invalid", "The note cannot be used like this.", status=400, fields=wrong)
    if program.status == ProgramStatus.DRAFT:
        raise Refusal("not_given", "This program has not been given yet.")
    if Note.objects.filter(program=program, by=by, at__gt=now - timedelta(days=1)).count() >= MOST_A_DAY:
        raise Refusal("too_many", "Many notes were written today already. Ring instead.", status=429)
    from_client = by.role == Role.CLIENT
    if not from_client and first_unread(program, from_client=False) is None:
        _tell(by, program, note_id, now)
    try:
        with transaction.atomic():
            note = Note.objects.create(
                note_id=note_id, program=program, log=session, from_client=from_client, text=text.strip(), at=now, by=by
            )
    except IntegrityError as error:   # another program took the number at this very moment
        raise _taken() from error
    if read_until:
        mark_read(by, program, read_until, now)
    audit.record(by=by, verb="write_note", kind="note", public_id=note_id, at=now, client=program.client)
    return note


def _taken() -> Refusal:
    return Refusal("note_id_taken", "This note's number belongs to another note.", fields={"note_id": "It is taken."})


def _tell(by: User, program: Program, note_id: UUID, now: datetime) -> None:
    """One mail until the client has read: whoever has ten notes waiting needs no ten mails."""
    queue_message(
        by=by, kind=KIND, to=program.client, about=f"program:{program.public_id}", dedup_key=f"{KIND}:{note_id}",
        due=now, not_after=now + USEFUL, now=now,
        values={"first_name": program.client.given_name, "url": "/portal/notes/"},
    )
