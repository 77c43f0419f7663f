"""Doors and reads of the notes between client and clinician. The front desk sees none of them."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.db.models import Case, Count, IntegerField, Max, OuterRef, Q, QuerySet, Subquery, Value, When

from clinic.people.models import Client, User
from clinic.people.vocab import Role
from programs.following.models import Note, SessionLog
from programs.following.queries import CLINICAL
from programs.prescribing.models import Program
from programs.prescribing.queries import programs_for

UNREAD = Q(notes__from_client=True, notes__read__isnull=True)


def notes_of(user: User, program: Program) -> QuerySet[Note]:
    """The conversation of a program, the newest first: for its client, and for clinicians and leads who may see it."""
    if user.role not in (*CLINICAL, Role.CLIENT):
        return Note.objects.none()
    return (
        Note.objects.filter(program=program, program__in=programs_for(user))
        .select_related("log", "read", "by__staff", "program")
        .order_by("-at", "-pk")
    )


def own_notes(user: User) -> QuerySet[Note]:
    """Every note of the client's own programs, the newest first; nobody else has any."""
    if user.role != Role.CLIENT:
        return Note.objects.none()
    return (
        Note.objects.filter(program__in=programs_for(user))
        .select_related("log", "read", "by__staff", "program")
        .order_by("-at", "-pk")
    )


def conversations_for(user: User) -> QuerySet[Program]:
    """Programs with notes, those with one that nobody here has read first, then the newest; `unread`, `newest` and `last`
    (the key of the newest note) are counted along. For clinicians and leads."""
    if user.role not in CLINICAL:
        return Program.objects.none()
    newest = Note.objects.filter(program=OuterRef("pk")).order_by("-at", "-pk").values("pk")[:1]
    waits = Case(When(unread__gt=0, then=Value(0)), default=Value(1), output_field=IntegerField())
    return (
        programs_for(user)
        .filter(notes__isnull=False)
        .annotate(
            unread=Count("notes", filter=UNREAD, distinct=True), newest=Max("notes__at"), last=Subquery(newest),
        )
        .order_by(waits, "-newest", "-pk")
    )


def notes_named(pks: Iterable[int]) -> dict[int, Note]:
    """Notes by key with the words of their logs; one query."""
    rows = Note.objects.filter(pk__in=list(pks)).select_related("log", "read", "by__staff")
    return {row.pk: row for row in rows}


def unread_by_program(program_pks: Iterable[int], *, from_client: bool) -> dict[int, int]:
    """How many notes of that side the other one has not read, by program; none where there is none. One query."""
    rows = Note.objects.filter(program__in=list(program_pks), from_client=from_client, read__isnull=True)
    return dict(rows.order_by().values_list("program").annotate(Count("pk")))


def unread_for_client(client: Client) -> int:
    """How many notes from the clinic wait for a client, in all programs together."""
    return Note.objects.filter(program__client=client, from_client=False, read__isnull=True).count()


def first_unread(program: Program, *, from_client: bool) -> Note | None:
    """The oldest note of that side which the other one has not read."""
    return Note.objects.filter(program=program, from_client=from_client, read__isnull=True).order_by("at", "pk").first()


def session_named(program: Program, log_id: UUID) -> SessionLog | None:
    """The newest report of a session of this program; None when it holds no such session."""
    return SessionLog.objects.filter(program=program, log_id=log_id).order_by("-edit").first()


def note_waits(public_id: str) -> bool:
    """Whether a program of that id is there and its client has a note from the clinic to read."""
    return Note.objects.filter(program__public_id=public_id, from_client=False, read__isnull=True).exists()
