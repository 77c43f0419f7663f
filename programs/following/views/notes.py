"""Pages of notes: every conversation of one's clients, and one of them."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.following.actions.read_notes import read_notes
from programs.following.actions.write_note import write_note
from programs.following.forms import WriteForm
from programs.following.note_words import note_line
from programs.following.notes import conversations_for, notes_named, notes_of, session_named, unread_by_program
from programs.prescribing.queries import program_for

ROWS = 20   # conversations, and notes of one, on a page


@page(Role.CLINICIAN, Role.LEAD)
def conversations(request: HttpRequest) -> HttpResponse:
    """Programs with notes; those with one that waits to be read come first."""
    rows = page_of(conversations_for(me(request)), request, ROWS)
    last = notes_named(row.last for row in rows)
    lines = [(row, note_line(last[row.last], row.client)) for row in rows]
    return render(request, "following/notes.html", {"page": rows, "lines": lines})


@page(Role.CLINICIAN, Role.LEAD, methods=("GET", "POST"))
def conversation(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The notes of a program, the newest first; a clinician writes and answers, `?about=` one of its sessions."""
    program = program_for(me(request), public_id)
    writes = me(request).role == Role.CLINICIAN
    if request.method == "POST" and not writes:
        raise NotThere
    form = WriteForm(request.POST or None, initial={"note_id": uuid4(), "about": _about(request.GET.get("about", ""))})
    refusal: Refusal | None = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            write_note(
                by=me(request), program=program, note_id=given["note_id"], text=given["text"], log_id=given["about"],
                read_until=given["until"], now=timezone.now(),
            )
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "Sent. The client sees it in the portal.")
            return redirect("following:notes", public_id=public_id)
    return _conversation(request, program, form if writes else None, refusal)


def _conversation(request: HttpRequest, program: Any, form: WriteForm | None, refusal: Refusal | None) -> HttpResponse:
    rows = page_of(notes_of(me(request), program), request, ROWS)
    named = _about(str(form["about"].value())) if form else None
    about = session_named(program, named) if named else None
    context = {
        "program": program, "page": rows, "lines": [note_line(row, program.client) for row in rows], "form": form,
        "refusal": refusal, "about": about, "until": next((row.note_id for row in rows), None),
        "unread": unread_by_program([program.pk], from_client=True).get(program.pk, 0),
    }
    status = 200 if request.method == "GET" else refusal.status if refusal else 400
    return render(request, "following/conversation.html", context, status=status)


def _about(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


@page(Role.CLINICIAN, methods=("POST",))
def read(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Say that what was on the screen has been read."""
    program = program_for(me(request), public_id)
    until = _about(request.POST.get("until", ""))
    if until is not None:
        read_notes(by=me(request), program=program, until=until, now=timezone.now())
    return redirect("following:notes", public_id=public_id)
