"""Reassessments and results over the API."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.booking.queries import bookable_clinician
from clinic.people.access import STAFF, me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.queries import episode_for, sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits import queries
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.actions.record_result import record_result
from clinic.visits.rules.window import STATES
from clinic.visits.serializers import BookedOut, BookIn, ReassessmentOut, ResultIn, ResultOut, reassessment_out


class DuePages(Pages):
    """Cursor pages, the one due first on top."""

    ordering = ("due", "pk")   # type: ignore[assignment]   # DRF takes several as well


def _today(request: Request, now: datetime) -> date:
    site = sites_for(me(request)).first()
    return zones.day_in(now, site.zone) if site else now.date()


class Reassessments(RoleView):
    """The reassessments one may see, by due day."""

    roles = {"GET": STAFF}

    @extend_schema(
        operation_id="list_reassessments", responses={200: paged(ReassessmentOut)},
        parameters=[OpenApiParameter("state", str, enum=STATES, description="All open ones without it")],
    )
    def get(self, request: Request) -> Response:
        state = request.query_params.get("state") or None
        if state is not None and state not in STATES:
            raise Refusal(
                "invalid", f"There is no state {state[:20]!r}.", status=400,
                fields={"state": f"Choose one of {', '.join(STATES)}."},
            )
        today = _today(request, timezone.now())
        pages = DuePages()
        rows = pages.paginate_queryset(queries.overdue_list(me(request), today, state), request, self) or []
        return pages.get_paginated_response(
            ReassessmentOut([reassessment_out(row, today) for row in rows], many=True).data
        )


class BookReassessment(RoleView):
    """Book the visit that answers a reassessment."""

    roles = {"POST": (Role.FRONT_DESK, Role.CLINICIAN)}

    @extend_schema(operation_id="book_reassessment", request=BookIn, responses={201: BookedOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        row = queries.reassessment_for(me(request), public_id)
        given = BookIn(data=request.data)
        given.is_valid(raise_exception=True)
        clinician = bookable_clinician(me(request), row.episode.client.site, given.validated_data["clinician"])
        visit = book_reassessment(
            by=me(request), reassessment=row, clinician=clinician, start=given.validated_data["start"], now=timezone.now()
        )
        return Response(BookedOut(visit).data, status=201)


class Results(RoleView):
    """Record one measured value of an episode."""

    roles = {"POST": (Role.CLINICIAN,)}

    @extend_schema(operation_id="record_result", request=ResultIn, responses={201: ResultOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        episode = episode_for(me(request), public_id)
        given = ResultIn(data=request.data)
        given.is_valid(raise_exception=True)
        values = given.validated_data
        try:
            measure = queries.measure(values["measure"])
        except NotThere:
            raise Refusal(
                "invalid", "There is no such measure.", status=400, fields={"measure": "Unknown measure."}
            ) from None
        result = record_result(
            by=me(request), episode=episode, measure=measure, values=values["values"], side=values["side"],
            now=timezone.now(),
        )
        return Response(ResultOut(result).data, status=201)
