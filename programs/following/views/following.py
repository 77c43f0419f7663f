"""Pages of following: suggestions, alerts, a program's logs."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from clinic.people.access import STAFF, me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.following import queries
from programs.following.actions.accept_suggestion import accept_suggestion
from programs.following.actions.alter_suggestion import alter_suggestion
from programs.following.actions.close_alert import close_alert
from programs.following.actions.decline_suggestion import decline_suggestion
from programs.following.actions.log_session import log_session
from programs.following.forms import AlterForm, DeclineForm, LogForm, NoteForm, first_errors
from programs.following.notes import unread_by_program
from programs.following.rules.adherence import Bands
from programs.following.rules.breakdown import by_item, by_phase
from programs.following.rules.fold import fold
from programs.following.rules.trend import shift_since_start
from programs.following.vocab import Band, LogSource, SuggestionKind
from programs.following.words import BANDS, PHASES, alert_line, day_words, log_line, suggestion_line
from programs.library.queries import levels_of
from programs.prescribing.queries import plan_of, program_for, revision_on

ROWS = 10   # suggestions a page: each is read, not skimmed
DONE = {
    SuggestionKind.PROGRESS: "Accepted. The program has a new revision from tomorrow.",
    SuggestionKind.REGRESS: "Accepted. The program has a new revision from tomorrow.",
    SuggestionKind.TAPER: "Accepted. The taper begins tomorrow.",
    SuggestionKind.EXTEND_KICK_OFF: "Accepted. The kick-off is longer.",
    SuggestionKind.CONTACT: "Noted. Now talk to the client.",
    SuggestionKind.REASSESS: "Accepted. The reassessment is on the front desk's list.",
    SuggestionKind.PAUSE_AND_REFER: "Accepted. The program is paused and a reassessment is on the list.",
}


@page(Role.CLINICIAN, Role.LEAD)
def suggestions(request: HttpRequest) -> HttpResponse:
    """Open suggestions for one's clients, with the evidence."""
    return _suggestions(request)


def _suggestions(
    request: HttpRequest, refusal: Refusal | None = None, status: int = 200, typed_at: UUID | None = None
) -> HttpResponse:
    """The list; after a refusal, what was typed at one of them stands there again."""
    rows = page_of(queries.open_suggestions(me(request)), request, ROWS)
    names = queries.item_names({row.program_id for row in rows if row.item_key})
    levels = levels_of({row.evidence["change"]["exercise"] for row in rows if row.item_key})
    lines = [suggestion_line(row, names, levels) for row in rows]
    decides = me(request).role == Role.CLINICIAN
    context = {"page": rows, "lines": lines, "decides": decides, "refusal": refusal, "typed_at": typed_at}
    return render(request, "following/suggestions.html", context, status=status)


@page(Role.CLINICIAN, methods=("POST",))
def accept(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Say yes, and go back to the page of ours that `back` names."""
    back = request.POST.get("back", "")
    suggestion = queries.suggestion_for(me(request), public_id)
    try:
        accept_suggestion(by=me(request), suggestion=suggestion, now=timezone.now())
    except Refusal as refused:
        return _suggestions(request, refused, refused.status)
    messages.success(request, DONE[SuggestionKind(suggestion.kind)])
    return redirect(back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else "following:suggestions")


@page(Role.CLINICIAN, methods=("POST",))
def alter(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take it up in another way."""
    suggestion = queries.suggestion_for(me(request), public_id)
    form = AlterForm(request.POST)
    try:
        if not form.is_valid():
            raise Refusal("invalid", "Some values cannot be used.", status=400, fields=first_errors(form))
        alter_suggestion(by=me(request), suggestion=suggestion, now=timezone.now(), **form.chosen())
    except Refusal as refused:
        return _suggestions(request, refused, refused.status, public_id)
    messages.success(request, "Done in your way. Suggestion and choice are both kept.")
    return redirect("following:suggestions")


@page(Role.CLINICIAN, methods=("POST",))
def decline(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Say no, and why."""
    suggestion = queries.suggestion_for(me(request), public_id)
    form = DeclineForm(request.POST)
    reason = form.cleaned_data["reason"] if form.is_valid() else ""
    try:
        decline_suggestion(by=me(request), suggestion=suggestion, reason=reason, now=timezone.now())
    except Refusal as refused:
        return _suggestions(request, refused, refused.status, public_id)
    messages.success(request, "Declined. The reason is kept with it.")
    return redirect("following:suggestions")


@page(*STAFF)
def alerts(request: HttpRequest) -> HttpResponse:
    """Red-flag answers: who, when and the phone for the desk; which answer for clinicians and leads."""
    return _alerts(request)


def _alerts(
    request: HttpRequest, refusal: Refusal | None = None, status: int = 200, typed_at: UUID | None = None
) -> HttpResponse:
    role = me(request).role
    rows = page_of(queries.alerts_for(me(request)), request)
    lines = [alert_line(row, clinical=role != Role.FRONT_DESK) for row in rows]
    context = {
        "page": rows, "lines": lines, "any_open": any(line.open for line in lines),
        "clinical": role != Role.FRONT_DESK, "closes": role == Role.CLINICIAN, "refusal": refusal,
        "typed_at": typed_at,
    }
    return render(request, "following/alerts.html", context, status=status)


@page(Role.CLINICIAN, methods=("POST",))
def close(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Close an alert with a note."""
    alert = queries.alert_for(me(request), public_id)
    form = NoteForm(request.POST)
    note = form.cleaned_data["note"] if form.is_valid() else ""
    try:
        close_alert(by=me(request), alert=alert, note=note, now=timezone.now())
    except Refusal as refused:
        return _alerts(request, refused, refused.status, public_id)
    messages.success(request, "Closed. The note is kept with it.")
    return redirect("following:alerts")


@page(Role.CLINICIAN, Role.LEAD, methods=("GET", "POST"))
def logs(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """What was logged and what the days came to; a clinician may log a session on the client's behalf."""
    user, now = me(request), timezone.now()
    program = program_for(user, public_id)
    names = queries.item_names([program.pk])
    revision = revision_on(program, queries.today_of(program, now))
    form: LogForm | None = None
    refusal: Refusal | None = None
    if revision is not None and user.role == Role.CLINICIAN:
        form = LogForm(
            request.POST or None, plan=plan_of(revision), names=names, today=queries.today_of(program, now)
        )
    if request.method == "POST" and form is not None and revision is not None and form.is_valid():
        try:
            log_session(
                by=user, program=program, entry=form.entry(revision.public_id), now=now, source=LogSource.CLINICIAN
            )
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "Logged.")
            return redirect("following:logs", public_id=public_id)
    if request.method == "POST" and form is None:
        raise NotThere
    context = {**_logs(request, program, names, now), "form": form, "refusal": refusal}
    return render(request, "following/logs.html", context, status=400 if request.method == "POST" else 200)


def _logs(request: HttpRequest, program: Any, names: dict[UUID, str], now: datetime) -> dict[str, Any]:
    rows = page_of(queries.logs_of(me(request), program), request)
    today = queries.today_of(program, now)
    days = queries.days_of([program.pk], max(program.starts, today - queries.TWO_WEEKS), today)[program.pk]
    state = queries.states_of([program.pk]).get(program.pk)
    course = queries.course_of(program)
    folded = fold(course, today, Bands())
    return {
        "shift": shift_since_start([pain for _, pain in folded.pains]),
        "phases": [(PHASES[part.kind], part) for part in by_phase(folded, today) if part.kind],
        "items": [(names.get(part.item_key, "An exercise"), part) for part in by_item(course)],
        "program": program, "page": rows, "lines": [log_line(row, names) for row in rows],
        "unread": unread_by_program([program.pk], from_client=True).get(program.pk, 0),
        "state": state, "band": BANDS[Band(state.band)] if state else None,
        "day_words": [(day, *day_words(day, today)) for day in days[::-1]],
    }
