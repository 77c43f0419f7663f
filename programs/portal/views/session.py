"""The session: doing it, saying how it went, and what it did to the week."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.people.access import me
from clinic.people.refusal import NotThere, Refusal
from programs.following.actions.log_session import log_session
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.portal.forms import REASONS, ItemForm, SessionForm
from programs.portal.queries.own import acceptable_pain, day_of, program_showing, shown_revision
from programs.portal.queries.today import Card, cards_of, today_of
from programs.portal.queries.weeks import weeks_of
from programs.portal.rules.answers import seconds_done
from programs.portal.rules.days import monday_of
from programs.portal.views.client_page import client_page
from programs.portal.vocab import HowMuch, Stand
from programs.portal.wording import put_refusal


@client_page(("GET", "POST"))
def session(request: HttpRequest) -> HttpResponse:
    """The session as a list with its questions; guided by a script where there is one."""
    now = timezone.now()
    if request.method == "POST":
        return _save(request, now)
    today = today_of(me(request), now, request.GET.get("program"))
    if today.stand not in {Stand.ASKED, Stand.REST} or today.program is None or today.revision is None or today.alert:
        return redirect("portal:today")
    form = SessionForm(
        today=today.day, first=today.program.starts,
        initial={"log_id": uuid.uuid4(), "revision": today.revision.public_id, "day": today.day.isoformat()},
    )
    rows = [(card, ItemForm(card=card)) for card in today.cards]
    return _show(request, today.client, today.program, form, rows)


def _show(
    request: HttpRequest, client: Any, program: Any, form: SessionForm, rows: list[tuple[Card, ItemForm]],
    status: int = 200,
) -> HttpResponse:
    context = {
        "client": client, "program": program, "form": form, "rows": rows, "reasons": REASONS[1:],
        "problems": _problems(form, rows), "acceptable": acceptable_pain(),
    }
    return render(request, "portal/session.html", context, status=status)


def _problems(form: SessionForm, rows: list[tuple[Card, ItemForm]]) -> list[tuple[str, str, str]]:
    """(id of the field, where it is, what is wrong) of every answer that cannot be used, in the page's order."""
    found = [
        (answers[name].auto_id, card.words.name, str(sentence))
        for card, answers in rows for name, sentences in answers.errors.items() for sentence in sentences
    ]
    found += [
        (form[name].auto_id, str(form.fields[name].label), str(sentence))
        for name, sentences in form.errors.items() if name in form.fields for sentence in sentences
    ]
    return found + [("", "", str(sentence)) for sentence in form.non_field_errors()]


def _save(request: HttpRequest, now: datetime) -> HttpResponse:
    user = me(request)
    program, revision = _shown(request)
    client = program.client
    form = SessionForm(request.POST, today=day_of(client, now), first=program.starts)
    rows = [(card, ItemForm(request.POST, card=card)) for card in cards_of(revision, client.language)]
    good = [form.is_valid(), *(answers.is_valid() for _card, answers in rows)]
    if all(good):
        try:
            entry = _entry(form, [answers for _card, answers in rows])
            outcome = log_session(by=user, program=program, entry=entry, now=now)
        except Refusal as refusal:
            put_refusal(form, refusal)
        else:
            if outcome.result == "already":
                messages.info(request, _("We had this session already. It counts once."))
            return redirect("portal:saved", program.public_id)
    return _show(request, client, program, form, rows, status=400)


def _shown(request: HttpRequest) -> tuple[Any, Any]:
    """(program, revision) that the page showed: also a revision that a newer one has replaced since."""
    try:
        revision_id = UUID(request.POST.get("revision", ""))
    except ValueError:
        raise NotThere from None
    program = program_showing(me(request), revision_id)
    return program, shown_revision(program, revision_id)


def _entry(form: SessionForm, answers: list[ItemForm]) -> SessionEntry:
    values = form.cleaned_data
    return SessionEntry(
        log_id=values["log_id"], edit=0, revision=values["revision"], day=values["day"], started=values["started"],
        pain_before=values["pain_before"], pain_during=values["pain_during"], effort=values["effort"],
        rating=values["rating"], words=values["words"].strip(), items=tuple(_item(answer) for answer in answers),
    )


def _item(answer: ItemForm) -> ItemEntry:
    values = answer.cleaned_data
    how = HowMuch(values["done"])
    left, right = seconds_done(answer.item, how, values.get("left"), values.get("right"))
    return ItemEntry(
        item_key=answer.item.key, done_left=left, done_right=right, reps_last_set=None, rating=values["rating"],
        skipped=values["skipped"] if how == HowMuch.NOT else "", level=values.get("level"),
    )


@client_page()
def saved(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Thank you, and what the session did to the week."""
    today = today_of(me(request), timezone.now(), public_id)
    if today.program is None:
        raise NotThere
    acceptable = acceptable_pain()
    week = weeks_of(today.program, [monday_of(today.day)], today.day)[0]
    return render(
        request, "portal/saved.html",
        {
            "today": today, "client": today.client, "week": week, "acceptable": acceptable,
            "hurt": today.pain is not None and today.pain > acceptable,
        },
    )
