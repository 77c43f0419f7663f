"""Notes to and from the clinician."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.refusal import NotThere, Refusal
from programs.following.actions.read_notes import read_notes
from programs.following.actions.write_note import write_note
from programs.following.notes import notes_of, session_named, unread_by_program
from programs.portal.forms_notes import NoteForm
from programs.portal.queries.own import chosen_program
from programs.portal.views.client_page import client_page
from programs.portal.wording import put_refusal

ROWS = 12   # notes on a page


@client_page(("GET", "POST"))
def notes(request: HttpRequest) -> HttpResponse:
    """The conversation about one program, the newest first, and a note of one's own; `?about=` one of its sessions."""
    client, program, others = chosen_program(me(request), request.GET.get("program"))
    if request.method == "GET":
        form = NoteForm(initial={"note_id": uuid4(), "about": _uuid(request.GET.get("about", ""))})
        return _show(request, client, program, others, form)
    if program is None:
        raise NotThere
    form = NoteForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            write_note(
                by=me(request), program=program, note_id=given["note_id"], text=given["text"], log_id=given["about"],
                read_until=given["until"], now=timezone.now(),
            )
        except Refusal as refusal:
            put_refusal(form, refusal)
        else:
            messages.success(request, _("Sent. Your clinician sees it when they next look."))
            return redirect(_address(program))
    return _show(request, client, program, others, form, 400)


def _show(
    request: HttpRequest, client: Any, program: Any, others: list[Any], form: NoteForm, status: int = 200
) -> HttpResponse:
    rows = page_of(notes_of(me(request), program) if program else [], request, ROWS)
    about = _uuid(str(form["about"].value() or ""))
    context = {
        "client": client, "program": program, "others": others, "form": form, "page": rows,
        "about": session_named(program, about) if program and about else None,
        "until": next((row.note_id for row in rows), None),
        "unread": unread_by_program([program.pk], from_client=False).get(program.pk, 0) if program else 0,
    }
    return render(request, "portal/notes.html", context, status=status)


@client_page(("POST",))
def read(request: HttpRequest) -> HttpResponse:
    """Say that what was on the screen has been read."""
    _client, program, _others = chosen_program(me(request), request.GET.get("program"))
    until = _uuid(request.POST.get("until", ""))
    if program is None:
        raise NotThere
    if until is not None:
        read_notes(by=me(request), program=program, until=until, now=timezone.now())
    return redirect(_address(program))


def _address(program: Any) -> str:
    return f"{reverse('portal:notes')}?program={program.public_id}"


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
