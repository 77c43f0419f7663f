"""What the clinic holds about who the client is, over the API, and saying that something of it is wrong."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.actions.ask_correction import MOST_WORDS, ask_correction
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.corrections import own_corrections
from clinic.people.openapi import paged
from clinic.people.queries import own_client
from clinic.people.vocab import CorrectionOutcome, Role

CLIENT = (Role.CLIENT,)


class DetailsOut(serializers.Serializer[Any]):
    """How the clinic knows the client, and how it reaches them."""

    given_name = serializers.CharField()
    family_name = serializers.CharField(help_text="Empty: none")
    birth_date = serializers.DateField(allow_null=True, help_text="null: not known")
    email = serializers.CharField(help_text="Empty: none")
    phone = serializers.CharField(help_text="E.164; empty: none")
    language = serializers.CharField(help_text="BCP 47")
    zone = serializers.CharField(help_text="IANA time zone")


class CorrectionIn(serializers.Serializer[Any]):
    words = serializers.CharField(max_length=MOST_WORDS, help_text="What is wrong, and what is right")


class CorrectionOut(serializers.Serializer[Any]):
    """Something the client asked to have set right, and what became of it."""

    id = serializers.UUIDField(source="public_id")
    words = serializers.CharField()
    asked = serializers.DateTimeField()
    outcome = serializers.ChoiceField(choices=CorrectionOutcome.choices)
    answered = serializers.DateTimeField(allow_null=True)
    reason = serializers.CharField(help_text="What the clinic says to it; may be empty")


class Details(RoleView):
    """Name, birth date and addresses as they are held. Closed to tokens."""

    roles = {"GET": CLIENT}

    @extend_schema(operation_id="my_details", responses={200: DetailsOut})
    def get(self, request: Request) -> Response:
        return Response(DetailsOut(own_client(me(request))).data)


class CorrectionPages(Pages):
    ordering = ("-asked", "-pk")   # type: ignore[assignment]   # DRF takes several as well


class Corrections(RoleView):
    """What the client asked to have set right, the newest first; one waits for its answer at a time. Closed to tokens."""

    roles = {"GET": CLIENT, "POST": CLIENT}

    @extend_schema(operation_id="list_my_corrections", responses={200: paged(CorrectionOut)})
    def get(self, request: Request) -> Response:
        pages = CorrectionPages()
        rows = pages.paginate_queryset(own_corrections(me(request)), request, self)
        return pages.get_paginated_response(CorrectionOut(rows, many=True).data)

    @extend_schema(operation_id="ask_my_correction", request=CorrectionIn, responses={201: CorrectionOut})
    @idempotent
    def post(self, request: Request) -> Response:
        given = CorrectionIn(data=request.data)
        given.is_valid(raise_exception=True)
        asked = ask_correction(by=me(request), words=given.validated_data["words"], now=timezone.now())
        return Response(CorrectionOut(asked).data, status=201)
