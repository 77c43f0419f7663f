"""Hours that are held for the client, over the API."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.booking.actions.answer_offer import answer_offer
from clinic.booking.vocab import OfferState
from clinic.booking.waiting import offer_for, open_offers
from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.vocab import Role
from programs.portal.vocab import Scope

CLIENT = (Role.CLIENT,)


class OfferOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    starts = serializers.DateTimeField(source="visit.starts")
    ends = serializers.DateTimeField(source="visit.ends")
    zone = serializers.CharField(source="visit.site.zone", help_text="IANA zone of the site")
    clinician = serializers.CharField(source="visit.clinician.name")
    visit_type = serializers.CharField(source="visit.visit_type.name")
    expires = serializers.DateTimeField(help_text="Without an answer until then somebody else is asked")
    state = serializers.ChoiceField(choices=OfferState.choices)


class OfferPages(Pages):
    ordering = ("-pk",)   # type: ignore[assignment]   # DRF takes several as well


class Offers(RoleView):
    """The hours that are held for the client now."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.VISITS}

    @extend_schema(operation_id="list_my_offers", responses={200: paged(OfferOut)})
    def get(self, request: Request) -> Response:
        pages = OfferPages()
        rows = pages.paginate_queryset(open_offers(me(request), timezone.now()), request, self)
        return pages.get_paginated_response(OfferOut(rows, many=True).data)


class AcceptOffer(RoleView):
    """Saying yes: the first yes has the hour. 409 `offer_over` with the next openings once it is no longer held."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="accept_my_offer", request=None, responses={200: OfferOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        return _answered(request, public_id, yes=True)


class DeclineOffer(RoleView):
    """Saying no: the next in turn is asked."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.CHANGE_VISITS}

    @extend_schema(operation_id="decline_my_offer", request=None, responses={200: OfferOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        return _answered(request, public_id, yes=False)


def _answered(request: Request, public_id: UUID, *, yes: bool) -> Response:
    offer = offer_for(me(request), public_id)
    return Response(OfferOut(answer_offer(by=me(request), offer=offer, yes=yes, now=timezone.now())).data)
