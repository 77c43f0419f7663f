"""Other times that the clinic proposes for a visit, over the API."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.booking.away import move_for, moves_for
from clinic.booking.vocab import MoveState
from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role
from programs.portal.actions.answer_move import answer_move
from programs.portal.vocab import Scope

CLIENT = (Role.CLIENT,)


class ProposedOut(serializers.Serializer[Any]):
    """The visit as it was agreed, and the time proposed in its place. Nothing changes before the answer."""

    id = serializers.UUIDField(source="public_id")
    visit = serializers.UUIDField(source="appointment.public_id")
    agreed = serializers.DateTimeField(source="appointment.starts")
    agreed_with = serializers.CharField(source="appointment.clinician.name")
    proposed = serializers.DateTimeField(source="starts", allow_null=True)
    proposed_with = serializers.CharField(source="clinician.name", allow_null=True)
    zone = serializers.CharField(source="appointment.site.zone", help_text="IANA zone of the site")
    state = serializers.ChoiceField(choices=MoveState.choices)


class ProposedPages(Pages):
    ordering = ("-pk",)   # type: ignore[assignment]   # DRF takes several as well


class ProposedMoves(RoleView):
    """The proposals that wait for the client's answer."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.VISITS}

    @extend_schema(operation_id="list_my_proposed_moves", responses={200: paged(ProposedOut)})
    def get(self, request: Request) -> Response:
        pages = ProposedPages()
        rows = pages.paginate_queryset(moves_for(me(request)), request, self)
        return pages.get_paginated_response(ProposedOut(rows, many=True).data)


class AcceptMove(RoleView):
    """Saying yes: the visit moves. 409 `slot_taken` or `changed_meanwhile` once it cannot."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="accept_my_proposed_move", request=None, responses={200: ProposedOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        return _answered(request, public_id, yes=True)


class DeclineMove(RoleView):
    """Saying no: the clinic is told and finds another time."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="decline_my_proposed_move", request=None, responses={200: ProposedOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        return _answered(request, public_id, yes=False)


def _answered(request: Request, public_id: UUID, *, yes: bool) -> Response:
    move = move_for(me(request), public_id)
    return Response(ProposedOut(answer_move(by=me(request), move=move, yes=yes, now=timezone.now())).data)
