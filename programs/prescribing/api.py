"""The API of programs: read, give, change with If-Match, pause, resume, end."""

from __future__ import annotations

import re
from datetime import date
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import PROBLEM, paged
from clinic.people.queries import episode_for
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.prescribing.actions.edit_template import edit_template
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.resume_program import resume_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.queries import (
    newest_revision,
    own_template_for,
    plan_of,
    program_for,
    programs_where,
    template_for,
    template_plan,
    templates_for,
)
from programs.prescribing.rules.plan import Plan
from programs.prescribing.rules.plan_json import PlanError, plan_from_json
from programs.prescribing.serializers import (
    EndIn,
    PauseIn,
    ProgramFilterIn,
    ProgramIn,
    ProgramOut,
    ProgramRow,
    RevisionIn,
    TemplateIn,
    TemplateOut,
    TemplateWordsIn,
    program_out,
)

_ETAG = re.compile(r'(?:W/)?"([1-9][0-9]{0,4})"')
JSON = "application/problem+json"
READERS, WRITERS = (Role.CLINICIAN, Role.LEAD), (Role.CLINICIAN,)
IF_MATCH = OpenApiParameter("If-Match", str, OpenApiParameter.HEADER, required=True, description="The ETag you saw")


class Templates(RoleView):
    roles = {"GET": READERS, "POST": WRITERS}

    @extend_schema(operation_id="templates_list", responses=paged(TemplateOut))
    def get(self, request: Request) -> Response:
        pages = Pages()
        rows = pages.paginate_queryset(templates_for(_user(request)), request, view=self)
        return pages.get_paginated_response(TemplateOut(rows, many=True).data)

    @extend_schema(operation_id="templates_save", request=TemplateIn, responses={201: TemplateOut})
    @idempotent
    def post(self, request: Request) -> Response:
        sent = TemplateIn(data=request.data)
        sent.is_valid(raise_exception=True)
        values = sent.validated_data
        program = program_for(_user(request), values["program"])
        template = save_template(
            by=_user(request), site=program.client.site, name=values["name"], summary=values["summary"],
            plan=plan_of(newest_revision(program)), now=timezone.now(),
        )
        return Response(TemplateOut(template).data, status=201)


class OneTemplate(RoleView):
    roles = {"GET": READERS, "PATCH": READERS}

    @extend_schema(operation_id="templates_read", responses=TemplateOut)
    def get(self, request: Request, slug: str) -> Response:
        return Response(TemplateOut(template_for(_user(request), slug)).data)

    @extend_schema(operation_id="templates_edit", request=TemplateWordsIn, responses=TemplateOut)
    def patch(self, request: Request, slug: str) -> Response:
        template = own_template_for(_user(request), slug)
        sent = TemplateWordsIn(data=request.data)
        sent.is_valid(raise_exception=True)
        words = {"name": template.name, "summary": template.summary, **sent.validated_data}
        return Response(TemplateOut(edit_template(by=_user(request), template=template, now=timezone.now(), **words)).data)


class Programs(RoleView):
    roles = {"GET": READERS, "POST": WRITERS}

    @extend_schema(operation_id="programs_list", parameters=[ProgramFilterIn], responses=paged(ProgramRow))
    def get(self, request: Request) -> Response:
        pages = Pages()
        asked = ProgramFilterIn(data=request.query_params)
        asked.is_valid(raise_exception=True)
        rows = pages.paginate_queryset(programs_where(_user(request), **asked.validated_data), request, view=self)
        return pages.get_paginated_response(ProgramRow(rows, many=True).data)

    @extend_schema(operation_id="programs_prescribe", request=ProgramIn, responses={201: ProgramOut})
    @idempotent
    def post(self, request: Request) -> Response:
        sent = ProgramIn(data=request.data)
        sent.is_valid(raise_exception=True)
        values = sent.validated_data
        episode = episode_for(_user(request), values["episode"])
        starts, now = values["starts"], timezone.now()
        if starts < zones.day_in(now, episode.client.zone):
            raise Refusal(
                "invalid", "A new program starts today or later.", status=400,
                fields={"starts": "A new program starts today or later."},
            )
        if "template" in values:
            plan = template_plan(template_for(_user(request), values["template"]), starts)
        else:
            plan = _plan(values["plan"], starts)
        program = prescribe_program(
            by=_user(request), episode=episode, plan=plan, title=values["title"], starts=starts, now=now,
            override_reason=values["override_reason"], screening_reason=values["screening_reason"],
        )
        return _answer(program, 201)


class OneProgram(RoleView):
    roles = {"GET": READERS}

    @extend_schema(operation_id="programs_read", responses=ProgramOut)
    def get(self, request: Request, public_id: UUID) -> Response:
        return _answer(program_for(_user(request), public_id))


class Revisions(RoleView):
    roles = {"POST": WRITERS}

    @extend_schema(
        operation_id="programs_revise", request=RevisionIn, parameters=[IF_MATCH],
        responses={
            201: ProgramOut, (412, JSON): OpenApiResponse(PROBLEM, "Changed since; `differences` says what."),
            (428, JSON): OpenApiResponse(PROBLEM, "Without If-Match."),
        },
    )
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        program = program_for(_user(request), public_id)
        based_on = _if_match(request.headers.get("If-Match"))
        sent = RevisionIn(data=request.data)
        sent.is_valid(raise_exception=True)
        values = sent.validated_data
        plan = _plan(values["plan"], values.get("anchor") or newest_revision(program).anchor)
        revise_program(
            by=_user(request), program=program, plan=plan, effective_from=values["effective_from"],
            reason=values["reason"], based_on=based_on, now=timezone.now(), override_reason=values["override_reason"],
            screening_reason=values["screening_reason"],
        )
        return _answer(program, 201)


class Pausing(RoleView):
    roles = {"POST": WRITERS}

    @extend_schema(operation_id="programs_pause", request=PauseIn, responses=ProgramOut)
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        program = program_for(_user(request), public_id)
        sent = PauseIn(data=request.data)
        sent.is_valid(raise_exception=True)
        pause_program(by=_user(request), program=program, reason=sent.validated_data["reason"], now=timezone.now())
        return _answer(program_for(_user(request), public_id))


class Resuming(RoleView):
    roles = {"POST": WRITERS}

    @extend_schema(operation_id="programs_resume", request=None, responses=ProgramOut)
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        program = program_for(_user(request), public_id)
        return _answer(resume_program(by=_user(request), program=program, now=timezone.now()))


class Ending(RoleView):
    roles = {"POST": WRITERS}

    @extend_schema(operation_id="programs_end", request=EndIn, responses=ProgramOut)
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        program = program_for(_user(request), public_id)
        sent = EndIn(data=request.data)
        sent.is_valid(raise_exception=True)
        status = sent.validated_data["status"]
        return _answer(end_program(by=_user(request), program=program, status=status, now=timezone.now()))


def _answer(program: Any, status: int = 200) -> Response:
    """One program; its ETag is the number of its newest revision."""
    body = program_out(program, zones.day_in(timezone.now(), program.client.zone))
    return Response(body, status=status, headers={"ETag": f'"{body["revision"]}"'})


def _if_match(header: str | None) -> int:
    """The revision number the caller saw. Refusal 428 without the header, 400 when it is no ETag of a program."""
    if header is None:
        raise Refusal("if_match_missing", "Send If-Match with the ETag of the program you saw.", status=428)
    found = _ETAG.fullmatch(header.strip())
    if found is None:
        raise Refusal("if_match_malformed", 'If-Match must be the ETag of the program, such as "3".', status=400)
    return int(found[1])


def _plan(data: Any, anchor: date) -> Plan:
    try:
        return plan_from_json(data, anchor)
    except PlanError as error:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=error.fields) from error


def _user(request: Request) -> Any:
    """Who is signed in; the view's roles have let nobody else through."""
    return request.user
