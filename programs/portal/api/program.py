"""The program over the API: today, the days ahead, the weeks, and what a phone hands over."""

from __future__ import annotations

import hashlib
import json
from typing import Any
from uuid import UUID

from django.utils import timezone, translation
from django.utils.translation import gettext_noop
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import RoleView, idempotent
from clinic.people.openapi import PROBLEM
from clinic.people.permissions import ANY_SCOPE
from clinic.people.queries import own_client
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules.language import spoken_language
from clinic.people.vocab import Role
from programs.following.actions.answer_morning import answer_morning
from programs.following.actions.raise_alert import raise_alert
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.portal import serializers as shapes
from programs.portal.actions.log_own_sessions import log_own_sessions
from programs.portal.queries.ahead import ahead_of
from programs.portal.queries.own import chosen_program
from programs.portal.queries.today import today_of
from programs.portal.queries.weeks import course_of
from programs.portal.rules.days import LOOK_AHEAD_DAYS
from programs.portal.vocab import Scope
from programs.portal.wording import reason_in_words

CLIENT = (Role.CLIENT,)
PROGRAM = OpenApiParameter("program", UUID, description="One of the client's own programs; without it their first")
BAD_NUMBER = (400, "application/problem+json")
BAD = OpenApiResponse(PROBLEM, "Some values cannot be used; `errors` names them.")
MOST_DAYS = LOOK_AHEAD_DAYS
DAYS = OpenApiParameter("days", int, description=f"Today and the days after it, 1 to {MOST_DAYS}; {MOST_DAYS} without it")
PERSON = OpenApiParameter(
    "Intervale-Person", UUID, OpenApiParameter.HEADER,
    description="The `id` of GET /me that this was kept for; 409 `other_person` when somebody else is signed in",
)


class Me(RoleView):
    """Who is signed in."""

    roles = {"GET": CLIENT}
    scopes = {"GET": ANY_SCOPE}

    @extend_schema(operation_id="me", responses={200: shapes.MeOut})
    def get(self, request: Request) -> Response:
        return Response(shapes.MeOut(own_client(me(request))).data)


class Today(RoleView):
    """What is asked today."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.PLAN}

    @extend_schema(operation_id="my_today", parameters=[PROGRAM], responses={200: shapes.TodayOut, 304: None})
    def get(self, request: Request) -> Response:
        today = today_of(me(request), timezone.now(), request.query_params.get("program"))
        return _tagged(request, shapes.TodayOut(today).data)


class Plan(RoleView):
    """The days ahead, for a phone to keep."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.PLAN}

    @extend_schema(operation_id="my_plan", parameters=[DAYS], responses={200: shapes.AheadOut, 304: None, BAD_NUMBER: BAD})
    def get(self, request: Request) -> Response:
        asked = request.query_params.get("days", str(MOST_DAYS))
        if not (asked.isascii() and asked.isdigit() and 1 <= int(asked[:4]) <= MOST_DAYS and len(asked) <= 2):
            sentence = f"The number of days is from 1 to {MOST_DAYS}."
            raise Refusal("invalid", sentence, status=400, fields={"days": sentence})
        return _tagged(request, shapes.AheadOut(ahead_of(me(request), timezone.now(), int(asked))).data)


def _tagged(request: Request, body: Any) -> Response:
    """The body with its ETag, or 304 when the caller holds it already."""
    tag = f'"{hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).hexdigest()[:32]}"'
    known = [part.strip().removeprefix("W/") for part in request.headers.get("If-None-Match", "").split(",")]
    if tag in known:
        return Response(status=304, headers={"ETag": tag})
    return Response(body, headers={"ETag": tag})


def same_person(request: Request) -> None:
    """What a phone kept for one person is not taken while another is signed in. Refusal `other_person` (409)."""
    named = request.headers.get("Intervale-Person", "")
    if named and named != str(own_client(me(request)).public_id):
        raise Refusal("other_person", "Somebody else is signed in. What was kept stays on the phone until you sign in again.")


class Weeks(RoleView):
    """The way of the program: phases in dates, days as a ribbon."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.PLAN}

    @extend_schema(operation_id="my_weeks", parameters=[PROGRAM], responses={200: shapes.WeeksOut})
    def get(self, request: Request) -> Response:
        course = course_of(me(request), timezone.now(), request.query_params.get("program"))
        return Response(shapes.WeeksOut(course).data)


class Sessions(RoleView):
    """Sessions that a phone hands over."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.LOG}

    @extend_schema(
        operation_id="log_my_sessions", parameters=[PERSON], request=shapes.BatchShape, responses={200: shapes.BatchOut}
    )
    @idempotent
    def post(self, request: Request) -> Response:
        same_person(request)
        batch = shapes.BatchIn(data=request.data)
        batch.is_valid(raise_exception=True)
        entries: dict[int, SessionEntry] = {}
        results: list[dict[str, Any]] = []
        shape = shapes.SessionIn()   # one for all: making it is most of what reading a session costs
        for place, raw in enumerate(batch.validated_data["sessions"]):
            try:
                entries[place] = _entry(shape.run_validation(raw))
            except ValidationError as wrong:
                results.append(_unreadable(place, raw, wrong.detail))
        results += shapes.HandedOut(log_own_sessions(by=me(request), entries=entries, now=timezone.now()), many=True).data
        if any(row["reason"] for row in results):
            with translation.override(spoken_language(own_client(me(request)).language)):
                for row in results:
                    row["reason"] = reason_in_words(row["code"], row["reason"])
        return Response({"results": sorted(results, key=lambda row: row["place"])})


def _entry(values: dict[str, Any]) -> SessionEntry:
    return SessionEntry(**{**values, "items": tuple(ItemEntry(**item) for item in values["items"])})


def _unreadable(place: int, raw: Any, errors: Any) -> dict[str, Any]:
    try:
        log_id = str(UUID(str(raw["log_id"])))
    except (KeyError, TypeError, ValueError):
        log_id = None
    return {
        "place": place, "log_id": log_id, "result": "refused", "older_plan": False, "code": "invalid",
        "reason": gettext_noop("Some values of this session cannot be used."), "errors": errors,
    }


class Mornings(RoleView):
    """How it felt the morning after."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.LOG}

    @extend_schema(
        operation_id="answer_my_morning", parameters=[PERSON], request=shapes.MorningIn, responses={200: shapes.MorningOut}
    )
    @idempotent
    def post(self, request: Request) -> Response:
        same_person(request)
        given = shapes.MorningIn(data=request.data)
        given.is_valid(raise_exception=True)
        values = dict(given.validated_data)
        program = chosen_program(me(request), values.pop("program"))[1]
        if program is None:
            raise NotThere
        answer_morning(by=me(request), program=program, now=timezone.now(), **values)
        return Response(shapes.MorningOut(values).data)


class Alerts(RoleView):
    """A red-flag answer: the clinic is told at once, and the answer says whom to call."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.LOG}

    @extend_schema(
        operation_id="raise_my_alert", parameters=[PERSON], request=shapes.AlertIn, responses={200: shapes.AlertOut}
    )
    @idempotent
    def post(self, request: Request) -> Response:
        same_person(request)
        given = shapes.AlertIn(data=request.data)
        given.is_valid(raise_exception=True)
        client = own_client(me(request))
        raise_alert(by=me(request), client=client, now=timezone.now(), **given.validated_data)
        return Response(
            shapes.AlertOut(
                {
                    "answer_id": given.validated_data["answer_id"], "stop": True,
                    "emergency_number": client.site.emergency_number, "clinic_phone": client.site.phone,
                }
            ).data
        )
