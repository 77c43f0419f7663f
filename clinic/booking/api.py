"""The API of booking, for staff."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.booking import queries
from clinic.booking import serializers as shapes
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.localtime import instant_from, start_of
from clinic.people.access import STAFF, me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.queries import client_for, sites_for
from clinic.people.refusal import NotThere
from clinic.people.rules import zones

ASK_DAYS = 28
RANGE = [
    OpenApiParameter("from", str, description="First local day, YYYY-MM-DD"),
    OpenApiParameter("to", str, description="Last local day, included"),
]


def _values(shape: Any, data: Any) -> dict[str, Any]:
    given = shape(data=data)
    given.is_valid(raise_exception=True)
    return dict(given.validated_data)


def _query(shape: Any, request: Request) -> dict[str, Any]:
    """Query values, with `from` and `to` under names that Python can hold."""
    names = {"from": "first", "to": "last"}
    return _values(shape, {names.get(key, key): value for key, value in request.query_params.items()})


def _start(values: dict[str, Any], zone: str) -> datetime:
    if "start" in values:
        return instant_from(values["start"])
    return start_of(values["local"]["day"], values["local"]["time"], zone)


class AppointmentPages(Pages):
    ordering = ("starts", "pk")   # type: ignore[assignment]   # DRF takes either


class OpeningsApi(RoleView):
    roles = {"GET": STAFF}

    @extend_schema(
        operation_id="openings_list",
        parameters=[
            OpenApiParameter("visit_type", str, required=True), OpenApiParameter("clinician", UUID),
            OpenApiParameter("client", UUID), *RANGE, OpenApiParameter("limit", int),
        ],
        responses={200: shapes.OpeningsOut},
    )
    def get(self, request: Request) -> Response:
        """Openings, best first: at most `limit` of them, on 28 days from today unless said otherwise."""
        asked, now = _query(shapes.OpeningsIn, request), timezone.now()
        client = client_for(me(request), asked["client"]) if "client" in asked else None
        site = client.site if client else sites_for(me(request)).first()
        if site is None:
            raise NotThere
        clinician = (
            queries.bookable_clinician(me(request), site, asked["clinician"]) if "clinician" in asked else None
        )
        first = asked.get("first") or zones.day_in(now, site.zone)
        found = queries.openings(
            site=site, visit_type=queries.visit_type(asked["visit_type"]), first_day=first,
            last_day=asked.get("last") or first + timedelta(days=ASK_DAYS), now=now, clinician=clinician, client=client,
            limit=asked["limit"],
        )
        return Response(shapes.OpeningsOut({"openings": found}).data)


class AppointmentsApi(RoleView):
    roles = {"GET": STAFF, "POST": STAFF}

    @extend_schema(
        operation_id="appointments_list",
        parameters=[*RANGE, OpenApiParameter("cursor", str), OpenApiParameter("page_size", int)],
        responses={200: paged(shapes.AppointmentOut)},
    )
    def get(self, request: Request) -> Response:
        """Visits the caller may see, in the order they start, a page at a time."""
        asked, site = _query(shapes.RangeIn, request), sites_for(me(request)).first()
        if site is None:
            raise NotThere
        first = zones.day_bounds(asked["first"], site.zone)[0] if "first" in asked else None
        last = zones.day_bounds(asked["last"], site.zone)[1] if "last" in asked else None
        pages = AppointmentPages()
        rows = pages.paginate_queryset(queries.appointments_between(me(request), first, last), request, view=self)
        return pages.get_paginated_response(shapes.AppointmentOut(rows or [], many=True).data)

    @extend_schema(
        operation_id="appointments_book", request=shapes.BookVisitIn, responses={201: shapes.AppointmentOut}
    )
    @idempotent
    def post(self, request: Request) -> Response:
        """Book a visit and tell the client. 409 `slot_taken` names what is taken and offers the next openings."""
        asked = _values(shapes.BookVisitIn, request.data)
        client = client_for(me(request), asked["client"])
        visit = book_visit(
            by=me(request), client=client, visit_type=queries.visit_type(asked["visit_type"]),
            clinician=queries.bookable_clinician(me(request), client.site, asked["clinician"]),
            start=_start(asked, client.site.zone), now=timezone.now(),
            room=queries.room_at(client.site, asked["room"]) if "room" in asked else None,
            due_earliest=asked.get("due_earliest"), due_latest=asked.get("due_latest"), note=asked.get("note", ""),
        )
        return Response(shapes.AppointmentOut(visit).data, status=201)


class AppointmentApi(RoleView):
    roles = {"GET": STAFF}

    @extend_schema(operation_id="appointments_read", responses={200: shapes.AppointmentOut})
    def get(self, request: Request, public_id: UUID) -> Response:
        """One visit."""
        return Response(shapes.AppointmentOut(queries.appointment_for(me(request), public_id)).data)


class MoveApi(RoleView):
    roles = {"POST": STAFF}

    @extend_schema(
        operation_id="appointments_move", request=shapes.MoveVisitIn, responses={200: shapes.AppointmentOut}
    )
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        """Move a visit and tell the client."""
        asked, visit = _values(shapes.MoveVisitIn, request.data), queries.appointment_for(me(request), public_id)
        person = asked.get("clinician")
        moved = move_visit(
            by=me(request), appointment=visit, start=_start(asked, visit.site.zone), now=timezone.now(),
            clinician=queries.bookable_clinician(me(request), visit.site, person) if person else None,
            room=queries.room_at(visit.site, asked["room"]) if "room" in asked else None,
        )
        return Response(shapes.AppointmentOut(moved).data)


class CancelApi(RoleView):
    roles = {"POST": STAFF}

    @extend_schema(
        operation_id="appointments_cancel", request=shapes.CancelVisitIn, responses={200: shapes.AppointmentOut}
    )
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        """Cancel a visit, with a reason, and tell the client."""
        asked, visit = _values(shapes.CancelVisitIn, request.data), queries.appointment_for(me(request), public_id)
        gone = cancel_visit(by=me(request), appointment=visit, reason=asked["reason"], now=timezone.now())
        return Response(shapes.AppointmentOut(gone).data)


class MarkApi(RoleView):
    roles = {"POST": STAFF}

    @extend_schema(
        operation_id="appointments_mark", request=shapes.MarkVisitIn, responses={200: shapes.AppointmentOut}
    )
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        """Mark a visit as arrived, checked in, finished, no-show, or back."""
        asked, visit = _values(shapes.MarkVisitIn, request.data), queries.appointment_for(me(request), public_id)
        marked = mark_visit(by=me(request), appointment=visit, status=asked["status"], now=timezone.now())
        return Response(shapes.AppointmentOut(marked).data)
