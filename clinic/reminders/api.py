"""Messages over the API, for the front desk and the lead."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role
from clinic.reminders import queries
from clinic.reminders.actions.retry_message import retry_message
from clinic.reminders.serializers import MessageOut

OFFICE = (Role.FRONT_DESK, Role.LEAD)


class Messages(RoleView):
    """What was sent, what was not and why, newest first."""

    roles = {"GET": OFFICE}

    @extend_schema(
        operation_id="list_messages",
        responses={200: paged(MessageOut)},
        parameters=[OpenApiParameter("show", str, enum=["attention"], description="Only what needs a person")],
    )
    def get(self, request: Request) -> Response:
        pages = Pages()
        attention = request.query_params.get("show") == "attention"
        rows = pages.paginate_queryset(queries.messages_for(me(request), attention), request, self)
        return pages.get_paginated_response(MessageOut(rows, many=True).data)


class Retry(RoleView):
    """Sending a failed message again."""

    roles = {"POST": OFFICE}

    @extend_schema(operation_id="retry_message", request=None, responses={200: MessageOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        message = queries.message_for(me(request), public_id)
        return Response(MessageOut(retry_message(by=me(request), message=message, now=timezone.now())).data)
