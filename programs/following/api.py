"""Suggestions and alerts over the API."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import STAFF, me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role
from programs.following import queries
from programs.following.actions.accept_suggestion import accept_suggestion
from programs.following.actions.alter_suggestion import alter_suggestion
from programs.following.actions.close_alert import close_alert
from programs.following.actions.decline_suggestion import decline_suggestion
from programs.following.serializers import (
    AcceptIn,
    AlertOut,
    AlertRow,
    AlterIn,
    ClinicalAlertOut,
    CloseIn,
    DeclineIn,
    SuggestionOut,
)


class Suggestions(RoleView):
    """Suggestions for one's clients, the newest first. Arithmetic on what was logged; a licensed clinician decides."""

    roles = {"GET": (Role.CLINICIAN, Role.LEAD)}

    @extend_schema(
        operation_id="list_suggestions", responses={200: paged(SuggestionOut)},
        parameters=[OpenApiParameter("state", str, enum=["open", "all"], description="open unless all is asked for")],
    )
    def get(self, request: Request) -> Response:
        door = queries.suggestions_for if request.query_params.get("state") == "all" else queries.open_suggestions
        pages = Pages()
        rows = pages.paginate_queryset(door(me(request)), request, self)
        return pages.get_paginated_response(SuggestionOut(rows, many=True).data)


class Accept(RoleView):
    """Say yes: what is proposed is done in the clinician's name."""

    roles = {"POST": (Role.CLINICIAN,)}

    @extend_schema(operation_id="accept_suggestion", request=AcceptIn, responses={200: SuggestionOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        suggestion = queries.suggestion_for(me(request), public_id)
        given = AcceptIn(data=request.data)
        given.is_valid(raise_exception=True)
        accepted = accept_suggestion(by=me(request), suggestion=suggestion, now=timezone.now(), **given.validated_data)
        return Response(SuggestionOut(accepted).data)


class Alter(RoleView):
    """Take it up in another way: another level, dose, number of days or day."""

    roles = {"POST": (Role.CLINICIAN,)}

    @extend_schema(operation_id="alter_suggestion", request=AlterIn, responses={200: SuggestionOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        suggestion = queries.suggestion_for(me(request), public_id)
        given = AlterIn(data=request.data)
        given.is_valid(raise_exception=True)
        chosen = {**given.validated_data}
        chosen["amount"] = tuple(chosen["amount"]) if chosen["amount"] else None
        altered = alter_suggestion(by=me(request), suggestion=suggestion, now=timezone.now(), **chosen)
        return Response(SuggestionOut(altered).data)


class Decline(RoleView):
    """Say no, and why."""

    roles = {"POST": (Role.CLINICIAN,)}

    @extend_schema(operation_id="decline_suggestion", request=DeclineIn, responses={200: SuggestionOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        suggestion = queries.suggestion_for(me(request), public_id)
        given = DeclineIn(data=request.data)
        given.is_valid(raise_exception=True)
        declined = decline_suggestion(by=me(request), suggestion=suggestion, now=timezone.now(), **given.validated_data)
        return Response(SuggestionOut(declined).data)


class Alerts(RoleView):
    """Red-flag answers. The front desk gets who, when and the phone; clinicians and leads which answer as well."""

    roles = {"GET": STAFF}

    @extend_schema(operation_id="list_alerts", responses={200: paged(AlertRow)})
    def get(self, request: Request) -> Response:
        pages = Pages()
        rows = pages.paginate_queryset(queries.alerts_for(me(request)), request, self)
        shape = AlertOut if me(request).role == Role.FRONT_DESK else ClinicalAlertOut
        return pages.get_paginated_response(shape(rows, many=True).data)


class CloseAlert(RoleView):
    """Close a red-flag answer with a note."""

    roles = {"POST": (Role.CLINICIAN,)}

    @extend_schema(operation_id="close_alert", request=CloseIn, responses={200: ClinicalAlertOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        alert = queries.alert_for(me(request), public_id)
        given = CloseIn(data=request.data)
        given.is_valid(raise_exception=True)
        closed = close_alert(by=me(request), alert=alert, now=timezone.now(), **given.validated_data)
        return Response(ClinicalAlertOut(closed).data)
