"""The prescriber: shape the plan, give it; and the same form for a change."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_date

from clinic.people.access import me, page
from clinic.people.queries import episode_for, open_conditions
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.library.vocab import DoseSide, Severity
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.finding import found
from programs.prescribing.prescriber import Draft, change, draft_from_post, draft_of
from programs.prescribing.preview import client_view
from programs.prescribing.queries import exercise_names, newest_revision, plan_of, program_for
from programs.prescribing.rules.fit import Fitted
from programs.prescribing.rules.plan import from_phase, problems
from programs.prescribing.rules.plan_json import PlanError
from programs.prescribing.screening import Standing, standing_for_change, standing_of
from programs.prescribing.shaping import fit_draft, taper_draft
from programs.prescribing.showing import item_rows, phase_fields, summary
from programs.prescribing.views.choosing import choose, first_draft, page_asked, uuid_of
from programs.prescribing.vocab import Advance, Leeway, PhaseKind, TimeOfDay, Weekday

Errors = dict[str, str]


@page(Role.CLINICIAN, methods=("GET", "POST"))
def new_program(request: HttpRequest) -> HttpResponse:
    """Step 1 chooses where to begin, step 2 shapes the plan; POST gives the program."""
    episode = episode_for(me(request), uuid_of(request.GET.get("episode", "")))
    today = zones.day_in(timezone.now(), episode.client.zone)
    context = {"episode": episode, "client": episode.client, "today": today}
    if request.method == "POST":
        return _give(request, episode, context)
    draft = first_draft(request, today)
    return choose(request, context) if draft is None else _form(request, draft, context)


def _give(request: HttpRequest, episode: Any, context: dict[str, Any]) -> HttpResponse:
    draft = draft_from_post(request.POST)
    if request.POST.get("do", "preview") != "give":
        return _shape(request, draft, context)
    try:
        starts = _day(draft.texts["starts"], "starts")
        if starts < context["today"]:
            raise PlanError({"starts": "A new program starts today or later."})
        program = prescribe_program(
            by=me(request), episode=episode, plan=draft.read(starts), title=draft.texts["title"], starts=starts,
            now=timezone.now(), override_reason=draft.texts["override_reason"],
            screening_reason=draft.texts["screening_reason"],
        )
    except (PlanError, Refusal) as error:
        return _form(request, draft, context, error)
    messages.success(request, "The program is given. The client sees it from its first day.")
    return redirect("prescribing:program", program.public_id)


@page(Role.CLINICIAN, methods=("GET", "POST"))
def revise(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Change a program; ?from_phase=2 proposes to move on to that phase today."""
    program = program_for(me(request), public_id)
    today = zones.day_in(timezone.now(), program.client.zone)
    context = {"program": program, "client": program.client, "today": today, "episode": program.episode}
    if request.method == "POST":
        return _change(request, program, context)
    revision = newest_revision(program)
    plan, counts = plan_of(revision), max(today, program.starts)
    texts = {
        "based_on": str(revision.number), "effective_from": counts.isoformat(), "anchor": plan.anchor.isoformat(),
        "count_from": "before", "reason": "",
    }
    onward = request.GET.get("from_phase", "")
    if onward.isdigit() and 1 < int(onward[:3]) <= len(plan.phases):
        plan = from_phase(plan, int(onward), counts)
        texts |= {"count_from": "afresh", "reason": "Moving on to the next phase."}
    return _form(request, draft_of(plan, **texts), context)


def _change(request: HttpRequest, program: Any, context: dict[str, Any]) -> HttpResponse:
    draft = draft_from_post(request.POST)
    if request.POST.get("do", "preview") != "give":
        return _shape(request, draft, context)
    try:
        effective = _day(draft.texts["effective_from"], "effective_from")
        afresh = draft.texts["count_from"] == "afresh"
        anchor = effective if afresh else _day(draft.texts["anchor"], "anchor")
        revise_program(
            by=me(request), program=program, plan=draft.read(anchor), effective_from=effective,
            reason=draft.texts["reason"], based_on=_number(draft.texts["based_on"]), now=timezone.now(),
            override_reason=draft.texts["override_reason"], screening_reason=draft.texts["screening_reason"],
        )
    except (PlanError, Refusal) as error:
        return _form(request, draft, context, error)
    messages.success(request, "The change is saved. What came before is kept.")
    return redirect("prescribing:program", program.public_id)


def _shape(request: HttpRequest, draft: Draft, context: dict[str, Any]) -> HttpResponse:
    """What a button other than the giving one asks for; the form comes back with it done, or with what is in the way."""
    fitted = None
    try:
        match request.POST.get("do", "preview"):
            case "fit":
                fitted = fit_draft(draft, context["today"])
            case "taper":
                taper_draft(draft)
            case "show":
                return render(request, "prescribing/as_client.html", {
                    **context, **client_view(draft.read(context["today"]), context["today"], context["client"])
                })
            case "save_template":
                _keep(request, draft, context)
            case do:
                change(draft, do)
    except (PlanError, Refusal) as error:
        return _form(request, draft, context, error)
    return _form(request, draft, context, fitted=fitted)


def _keep(request: HttpRequest, draft: Draft, context: dict[str, Any]) -> None:
    """Keep the draft as a template of the client's site."""
    try:
        template = save_template(
            by=me(request), site=context["client"].site, name=draft.texts["template_name"],
            plan=draft.read(context["today"]), now=timezone.now(), summary=draft.texts["template_summary"],
        )
    except Refusal as refusal:
        refusal.fields = {f"template_{n}" if n in ("name", "summary") else n: t for n, t in refusal.fields.items()}
        raise
    messages.success(request, f"Kept as the template “{template.name}”. The program itself is not given yet.")


def _form(
    request: HttpRequest, draft: Draft, context: dict[str, Any], error: PlanError | Refusal | None = None,
    fitted: Fitted | None = None,
) -> HttpResponse:
    """The form with everything typed still in it; the state of the plan beside it."""
    errors: Errors = dict(error.fields) if error else {}
    conditions = open_conditions(context["client"], context["today"])
    state: dict[str, Any] = {"readable": False}
    try:
        plan = draft.read(context["today"])
    except PlanError as unread:
        errors = {**unread.fields, **errors}
    else:
        errors = {**problems(plan.phases, plan.items), **errors} if request.method == "POST" else errors
        state = {"readable": bool(plan.items and plan.phases), **summary(plan, conditions)}
    context = {
        **context, **state, "draft": draft, "errors": errors, "refusal": error if isinstance(error, Refusal) else None,
        "conditions": conditions, "names": _names(draft, error, fitted), "sentences": list(errors.values()), "fitted": fitted,
        "anchor_day": parse_date(draft.texts.get("anchor", "")),
        "must_not": [warning for warning in state.get("warnings", []) if warning.severity == Severity.DO_NOT],
    }
    status = error.status if isinstance(error, Refusal) else 400 if error else 200
    if request.headers.get("HX-Request"):
        return render(request, "prescribing/parts/summary.html", context, status=200)
    context["standing"] = _in_the_way(context)
    asked = page_asked(request.POST.get("do", ""), request.POST)
    context |= {
        "items": item_rows(draft, errors), "phase_rows": phase_fields(draft, errors), "found": found(asked, conditions),
        "sides": DoseSide.choices, "kinds": PhaseKind.choices, "advances": Advance.choices,
        "weekdays": Weekday.choices, "times": TimeOfDay.choices, "leeways": Leeway.choices,
        "general_errors": [text for path, text in errors.items() if "." not in path and path not in draft.texts],
    }
    return render(request, "prescribing/prescriber.html", context, status=status)


def _in_the_way(context: dict[str, Any]) -> Standing | None:
    """What the client's screening puts in the way of giving this program, or of changing it; None when nothing."""
    if "program" in context:
        return standing_for_change(context["program"], context["today"])
    standing = standing_of(context["client"], context["today"])
    return None if standing.gate.is_open else standing


def _names(draft: Draft, error: PlanError | Refusal | None, fitted: Fitted | None) -> dict[str, str]:
    """Names of the exercises on the form and of those that a refusal or a fit speaks of."""
    told = error.numbers.get("differences", []) if isinstance(error, Refusal) else []
    return exercise_names([
        *(str(item["exercise"]) for item in draft.plan["items"]), *(change["where"] for change in told),
        *(lost.exercise for lost in (fitted.given_up if fitted else ())),
    ])


def _day(text: str, name: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise PlanError({name: "Give a day as YYYY-MM-DD."}) from error


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
