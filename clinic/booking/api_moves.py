"""The API of proposed moves, for the desk: what is proposed, asking a client, confirming for one."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.booking.actions.ask_move import ask_move
from clinic.booking.actions.confirm_move import confirm_move
from clinic.booking.away import move_for, open_moves
from clinic.booking.serializers import PersonOut
from clinic.booking.vocab import MoveState
from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role

DESK = (Role.FRONT_DESK, Role.LEAD)


class ProposedMoveOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    appointment = serializers.UUIDField(source="appointment.public_id")
    client = PersonOut(source="appointment.client")
    was_starts = serializers.DateTimeField()
    was_clinician = PersonOut()
    starts = serializers.DateTimeField(allow_null=True, help_text="Null: no place was found, or the desk sees to it")
    clinician = PersonOut(allow_null=True)
    zone = serializers.CharField(source="away.site.zone", help_text="IANA zone of the site")
    state = serializers.ChoiceField(choices=MoveState.choices)
    asked_at = serializers.DateTimeField(allow_null=True)


class MovePages(Pages):
    ordering = ("was_starts", "pk")   # type: ignore[assignment]   # DRF takes either


class ProposedMovesApi(RoleView):
    """Moves that are still to be settled, in the order of the visits."""

    roles = {"GET": DESK}

    @extend_schema(
        operation_id="proposed_moves_list",
        parameters=[OpenApiParameter("cursor", str), OpenApiParameter("page_size", int)],
        responses={200: paged(ProposedMoveOut)},
    )
    def get(self, request: Request) -> Response:
        pages = MovePages()
        rows = pages.paginate_queryset(open_moves(me(request)), request, view=self)
        return pages.get_paginated_response(ProposedMoveOut(rows or [], many=True).data)


class AskMoveApi(RoleView):
    """Asking the client whether the proposed time suits. The visit stays where it is until there is an answer."""

    roles = {"POST": DESK}

    @extend_schema(operation_id="proposed_moves_ask", request=None, responses={200: ProposedMoveOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        move = ask_move(by=me(request), move=move_for(me(request), public_id), now=timezone.now())
        return Response(ProposedMoveOut(move).data)


class ConfirmMoveApi(RoleView):
    """Moving the visit, for a client who said yes at the desk. 409 `slot_taken` with openings when the hour has gone."""

    roles = {"POST": DESK}

    @extend_schema(operation_id="proposed_moves_confirm", request=None, responses={200: ProposedMoveOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        move = confirm_move(by=me(request), move=move_for(me(request), public_id), now=timezone.now())
        return Response(ProposedMoveOut(move).data)
