"""The API of screenings: what a client answered before exercise, and what the newest says today."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role
from programs.prescribing.actions.record_screening import MOST_NOTE, record_screening
from programs.prescribing.screening import client_of, screenings_of
from programs.prescribing.vocab import Disease, Intensity, ScreeningFlag, Sign


class ScreeningIn(serializers.Serializer[Any]):
    """The answers; an empty list was asked and denied, so none may be left out."""

    active = serializers.BooleanField(help_text="30 minutes or more on 3 days a week or more for the last 3 months")
    intensity = serializers.ChoiceField(choices=Intensity.choices, help_text="The hardest that is planned")
    diseases = serializers.ListField(child=serializers.ChoiceField(choices=Disease.choices), max_length=20)
    signs = serializers.ListField(child=serializers.ChoiceField(choices=Sign.choices), max_length=20)
    red_flags = serializers.ListField(child=serializers.ChoiceField(choices=ScreeningFlag.choices), max_length=20)
    cleared_on = serializers.DateField(required=False, allow_null=True, default=None)
    note = serializers.CharField(required=False, allow_blank=True, max_length=MOST_NOTE, default="")


class ScreeningOut(ScreeningIn):
    """One screening; it is never changed."""

    id = serializers.UUIDField(source="public_id")
    day = serializers.DateField()
    asked_by = serializers.UUIDField(source="asked_by.public_id", help_text="The user who asked")
    at = serializers.DateTimeField()


class Screenings(RoleView):
    roles = {"GET": (Role.CLINICIAN, Role.LEAD), "POST": (Role.CLINICIAN,)}

    @extend_schema(operation_id="screenings_list", responses=paged(ScreeningOut))
    def get(self, request: Request, public_id: UUID) -> Response:
        pages = Pages()
        rows = pages.paginate_queryset(screenings_of(client_of(me(request), public_id)), request, view=self)
        return pages.get_paginated_response(ScreeningOut(rows, many=True).data)

    @extend_schema(operation_id="screenings_record", request=ScreeningIn, responses={201: ScreeningOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        client = client_of(me(request), public_id)
        sent = ScreeningIn(data=request.data)
        sent.is_valid(raise_exception=True)
        row = record_screening(by=me(request), client=client, now=timezone.now(), **sent.validated_data)
        return Response(ScreeningOut(row).data, status=201)
