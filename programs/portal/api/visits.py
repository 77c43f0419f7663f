"""The client's visits over the API."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role
from programs.portal import serializers as shapes
from programs.portal.actions.cancel_own_visit import cancel_own_visit
from programs.portal.queries.visits import my_visit, my_visits

CLIENT = (Role.CLIENT,)


class VisitPages(Pages):
    ordering = ("-starts", "-pk")   # type: ignore[assignment]   # DRF takes several as well


class Visits(RoleView):
    """The client's visits, the latest first."""

    roles = {"GET": CLIENT}

    @extend_schema(operation_id="list_my_visits", responses={200: paged(shapes.VisitOut)})
    def get(self, request: Request) -> Response:
        pages = VisitPages()
        rows = pages.paginate_queryset(my_visits(me(request)), request, self)
        return pages.get_paginated_response(shapes.VisitOut(rows, many=True).data)


class CancelVisit(RoleView):
    """Cancelling a visit."""

    roles = {"POST": CLIENT}

    @extend_schema(operation_id="cancel_my_visit", request=None, responses={200: shapes.VisitOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        visit = my_visit(me(request), public_id)
        return Response(shapes.VisitOut(cancel_own_visit(by=me(request), appointment=visit, now=timezone.now())).data)
