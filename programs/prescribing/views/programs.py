"""Pages of a program: in words, on paper, and what can be done with it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people import sections
from clinic.people.access import me, page
from clinic.people.queries import open_conditions
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.library.queries import warnings
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.resume_program import resume_program
from programs.prescribing.preview import client_view
from programs.prescribing.queries import exercise_names, pauses_of, plans_of, program_for
from programs.prescribing.rules.diff import Change, differences
from programs.prescribing.rules.plan import Plan, as_if_decided
from programs.prescribing.rules.ribbon import RibbonDay
from programs.prescribing.rules.timeline import asked_ribbon, in_force, timeline
from programs.prescribing.screening import overrides_of, standing_of
from programs.prescribing.showing import (
    OPEN_ENDED_SHOWN,
    PhaseRow,
    named_items,
    phase_rows,
    session_span,
    side_by_side,
)

DRAWN_BACK = 28   # days of the past a ribbon shows


@page(Role.CLINICIAN, Role.LEAD)
def program_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """A program in words: what counts now, its phases, its ribbon, and every revision with what changed."""
    return _program_page(request, public_id, None)


def _program_page(request: HttpRequest, public_id: UUID, refusal: Refusal | None) -> HttpResponse:
    program = program_for(me(request), public_id)
    today = zones.day_in(timezone.now(), program.client.zone)
    versions = plans_of(program)
    revision, plan = _counting(versions, max(today, program.starts))
    conditions = open_conditions(program.client, today)
    context = {
        "program": program, "today": today, "revision": revision, "newest": versions[-1][0], "plan": plan,
        "items": named_items(plan), "phases": phase_rows(plan), "history": _history(versions),
        "ribbon": _ribbon(program, versions, today), "pauses": pauses_of(program), "refusal": refusal,
        "warnings": warnings(sorted({item.exercise for item in plan.items}), conditions),
        "names": exercise_names(item.exercise for _, old in versions for item in old.items),
        "may_write": me(request).role == Role.CLINICIAN,
        "may_change": me(request).role == Role.CLINICIAN and program.status in ("active", "on-hold"),
        "next_phase": _next_phase(plan, today), "client": program.client, "standing": standing_of(program.client, today),
        "overrides": overrides_of(program), "sections": sections.built("program", me(request), program),
    }
    return render(request, "prescribing/program.html", context, status=refusal.status if refusal else 200)


def _history(versions: list[tuple[Any, Plan]]) -> list[tuple[Any, list[Change]]]:
    """Revisions newest first, each with what it changed."""
    before: Plan | None = None
    rows: list[tuple[Any, list[Change]]] = []
    for revision, plan in versions:
        rows.append((revision, differences(before, plan) if before else []))
        before = plan
    return rows[::-1]


def _ribbon(program: Any, versions: list[tuple[Any, Plan]], today: Any) -> list[RibbonDay]:
    """The last weeks as they were asked, and the whole way ahead when decisions are taken on time."""
    plans = [(revision.effective_from, as_if_decided(plan)) for revision, plan in versions]
    pauses = [(pause.first, pause.until) for pause in pauses_of(program)]
    newest = versions[-1][1]
    planned = newest.anchor + timedelta(days=sum(phase.days or OPEN_ENDED_SHOWN for phase in newest.phases) - 1)
    first = max(program.starts, today - timedelta(days=DRAWN_BACK))
    last = program.ended or max(planned, today + timedelta(days=OPEN_ENDED_SHOWN))
    return asked_ribbon(timeline(plans, pauses, min(first, last), min(last, first + timedelta(days=200))), today)


def _next_phase(plan: Plan, today: Any) -> PhaseRow | None:
    """The phase that waits for the clinician's decision, if the program stands before one."""
    known = phase_rows(plan)
    current = max((row.number for row in known if row.first and row.first <= today), default=1)
    follows = current < len(known) and known[current - 1].phase.advance == "by_decision"
    return known[current] if follows else None


@page(Role.CLINICIAN, Role.LEAD)
def as_client(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The program as the client sees it on a phone, read only."""
    program = program_for(me(request), public_id)
    today = zones.day_in(timezone.now(), program.client.zone)
    _, plan = _counting(plans_of(program), max(today, program.starts))
    return render(request, "prescribing/as_client.html", {
        "program": program, "client": program.client, **client_view(plan, today, program.client)
    })


@page(Role.CLINICIAN, Role.LEAD)
def compare(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Two revisions side by side: ?a= and ?b= are their numbers; the newest and the one before it when left out."""
    program = program_for(me(request), public_id)
    versions = plans_of(program)
    numbers = {str(revision.number): place for place, (revision, _) in enumerate(versions)}
    b = numbers.get(request.GET.get("b", ""), len(versions) - 1)
    a = numbers.get(request.GET.get("a", ""), max(0, b - 1))
    (old, old_plan), (new, new_plan) = versions[a], versions[b]
    return render(request, "prescribing/compare.html", {
        "program": program, "revisions": [revision for revision, _ in versions], "old": old, "new": new,
        "changes": differences(old_plan, new_plan), **side_by_side(old_plan, new_plan),
        "old_session": session_span(old_plan), "new_session": session_span(new_plan),
        "names": exercise_names(item.exercise for plan in (old_plan, new_plan) for item in plan.items),
    })


def _counting(versions: list[tuple[Any, Plan]], day: date) -> tuple[Any, Plan]:
    """The revision that counts on `day` with its plan; the newest when none does yet."""
    dated = [(revision.effective_from, (revision, plan)) for revision, plan in versions]
    return in_force(dated, day) or versions[-1]


@page(Role.CLINICIAN, methods=("POST",))
def pause(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Pause it from today."""
    program = program_for(me(request), public_id)
    reason = request.POST.get("reason", "")
    return _done(request, public_id, "The program is paused. Its days do not count until it goes on.",
                 lambda: pause_program(by=me(request), program=program, reason=reason, now=timezone.now()))


@page(Role.CLINICIAN, methods=("POST",))
def resume(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Go on from today."""
    program = program_for(me(request), public_id)
    return _done(request, public_id, "The program goes on. Today counts again.",
                 lambda: resume_program(by=me(request), program=program, now=timezone.now()))


@page(Role.CLINICIAN, methods=("POST",))
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """End it today."""
    program = program_for(me(request), public_id)
    status = request.POST.get("status", "")
    return _done(request, public_id, "The program has ended.",
                 lambda: end_program(by=me(request), program=program, status=status, now=timezone.now()))


def _done(request: HttpRequest, public_id: UUID, sentence: str, act: Any) -> HttpResponse:
    try:
        act()
    except Refusal as refusal:
        return _program_page(request, public_id, refusal)
    messages.success(request, sentence)
    return redirect("prescribing:program", public_id)
