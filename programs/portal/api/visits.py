"""The client's visits over the API."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils import timezone, translation
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import NotAcceptable
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.queries import own_client
from clinic.people.rules.language import spoken_language
from clinic.people.vocab import Role
from programs.portal.actions.book_own_visit import book_own_visit
from programs.portal.actions.cancel_own_visit import cancel_own_visit
from programs.portal.actions.confirm_own_visit import confirm_own_visit
from programs.portal.actions.move_own_visit import move_own_visit
from programs.portal.calendar import visit_file
from programs.portal.queries.visits import my_visit, my_visits, openings_to_book, openings_to_move, own_kind
from programs.portal.serializers_own import BookOwnIn, MoveIn, TimesOut
from programs.portal.serializers_visits import VisitOut
from programs.portal.vocab import Scope

CLIENT = (Role.CLIENT,)


class VisitPages(Pages):
    ordering = ("-starts", "-pk")   # type: ignore[assignment]   # DRF takes several as well


class Visits(RoleView):
    """The client's visits, the latest first."""

    roles = {"GET": CLIENT, "POST": CLIENT}
    scopes = {"GET": Scope.VISITS, "POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="book_my_visit", request=BookOwnIn, responses={201: VisitOut})
    @idempotent
    def post(self, request: Request) -> Response:
        """Book one of the times of `me/openings`."""
        given = BookOwnIn(data=request.data)
        given.is_valid(raise_exception=True)
        booked = book_own_visit(
            by=me(request), kind=own_kind(given.validated_data["kind"]), start=given.validated_data["start"],
            now=timezone.now(),
        )
        return Response(VisitOut(booked).data, status=201)

    @extend_schema(operation_id="list_my_visits", responses={200: paged(VisitOut)})
    def get(self, request: Request) -> Response:
        pages = VisitPages()
        rows = pages.paginate_queryset(my_visits(me(request)), request, self)
        return pages.get_paginated_response(VisitOut(rows, many=True).data)


class Openings(RoleView):
    """Times the client can book, of one kind of visit (`kind`), in order."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.VISITS}

    @extend_schema(
        operation_id="times_i_can_book", parameters=[OpenApiParameter("kind", str)], responses={200: TimesOut}
    )
    def get(self, request: Request) -> Response:
        kind = own_kind(request.query_params.get("kind", ""))
        found = openings_to_book(me(request), kind, timezone.now())
        return Response(TimesOut({"zone": own_client(me(request)).site.zone, "openings": found}).data)


class CancelVisit(RoleView):
    """Cancelling a visit."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="cancel_my_visit", request=None, responses={200: VisitOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        visit = my_visit(me(request), public_id)
        return Response(VisitOut(cancel_own_visit(by=me(request), appointment=visit, now=timezone.now())).data)


class ConfirmVisit(RoleView):
    """Saying yes to a time that the clinic holds."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="confirm_my_visit", request=None, responses={200: VisitOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        visit = my_visit(me(request), public_id)
        return Response(VisitOut(confirm_own_visit(by=me(request), appointment=visit, now=timezone.now())).data)


class MoveVisit(RoleView):
    """Moving a visit: the times it can move to, and moving it to one of them."""

    roles = {"GET": CLIENT, "POST": CLIENT}
    scopes = {"GET": Scope.VISITS, "POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="times_for_my_visit", responses={200: TimesOut})
    def get(self, request: Request, public_id: UUID) -> Response:
        visit = my_visit(me(request), public_id)
        return Response(
            TimesOut({"zone": visit.site.zone, "openings": openings_to_move(visit, timezone.now())}).data
        )

    @extend_schema(operation_id="move_my_visit", request=MoveIn, responses={200: VisitOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        visit = my_visit(me(request), public_id)
        given = MoveIn(data=request.data)
        given.is_valid(raise_exception=True)
        moved = move_own_visit(
            by=me(request), appointment=visit, start=given.validated_data["start"], now=timezone.now()
        )
        return Response(VisitOut(moved).data)


class CalendarFile(BaseRenderer):
    """iCalendar; a problem is JSON all the same."""

    media_type, format, charset = "text/calendar", "ics", "utf-8"

    def render(self, data: Any, accepted_media_type: Any = None, renderer_context: Any = None) -> bytes:
        return data if isinstance(data, bytes) else JSONRenderer().render(data)


class VisitFile(RoleView):
    """The visit as a file for a calendar (RFC 5545); its title gives nothing away."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.VISITS}
    renderer_classes = [CalendarFile, JSONRenderer]

    @extend_schema(operation_id="my_visit_file", responses={(200, "text/calendar"): OpenApiTypes.STR})
    def get(self, request: Request, public_id: UUID) -> Response:
        visit = my_visit(me(request), public_id)
        if request.accepted_renderer.format != CalendarFile.format:
            raise NotAcceptable
        with translation.override(spoken_language(visit.client.language)):
            return Response(visit_file(visit, timezone.now()), content_type="text/calendar; charset=utf-8")
