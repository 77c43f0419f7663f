"""Clients and episodes over the API."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people import queries
from clinic.people.access import STAFF, me
from clinic.people.actions.open_episode import open_episode
from clinic.people.actions.register_client import register_client
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.refusal import NotThere, Refusal
from clinic.people.serializers import ClientIn, ClientOut, EpisodeIn, EpisodeOut
from clinic.people.vocab import Role


class Clients(RoleView):
    """The clients one may see, and registering one."""

    roles = {"GET": STAFF, "POST": (Role.FRONT_DESK, Role.CLINICIAN)}

    @extend_schema(
        operation_id="list_clients", responses={200: paged(ClientOut)},
        parameters=[OpenApiParameter("q", str, description="Any part of a name, phone, birth date, or the number")],
    )
    def get(self, request: Request) -> Response:
        pages = Pages()
        rows = pages.paginate_queryset(
            queries.search_clients(me(request), request.query_params.get("q", "")[:80]), request, self
        )
        return pages.get_paginated_response(ClientOut(rows, many=True).data)

    @extend_schema(operation_id="register_client", request=ClientIn, responses={201: ClientOut})
    @idempotent
    def post(self, request: Request) -> Response:
        given = ClientIn(data=request.data)
        given.is_valid(raise_exception=True)
        values = dict(given.validated_data)
        site = queries.sites_for(me(request)).filter(name=values.pop("site")).first()
        if site is None:
            raise Refusal("invalid", "You do not work at such a site.", status=400, fields={"site": "Unknown site."})
        values["conditions"] = tuple(values["conditions"])
        client = register_client(by=me(request), site=site, now=timezone.now(), **values)
        return Response(ClientOut(client).data, status=201)


class OneClient(RoleView):
    """One client's contacts."""

    roles = {"GET": STAFF}

    @extend_schema(operation_id="read_client", responses={200: ClientOut})
    def get(self, request: Request, public_id: UUID) -> Response:
        return Response(ClientOut(queries.client_for(me(request), public_id)).data)


class Episodes(RoleView):
    """The episodes of a client, and opening one."""

    roles = {"GET": STAFF, "POST": (Role.FRONT_DESK, Role.CLINICIAN)}

    @extend_schema(operation_id="list_episodes", responses={200: paged(EpisodeOut)})
    def get(self, request: Request, public_id: UUID) -> Response:
        client = queries.client_for(me(request), public_id)
        pages = Pages()
        rows = pages.paginate_queryset(queries.episodes_for(me(request)).filter(client=client), request, self)
        return pages.get_paginated_response(EpisodeOut(rows, many=True).data)

    @extend_schema(operation_id="open_episode", request=EpisodeIn, responses={201: EpisodeOut})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        client = queries.client_for(me(request), public_id)
        given = EpisodeIn(data=request.data)
        given.is_valid(raise_exception=True)
        values, now = dict(given.validated_data), timezone.now()
        try:
            values["lead"] = queries.clinician_at(client.site, values["lead"])
        except NotThere:
            sentence = "There is no such clinician at the client's site."
            raise Refusal("invalid", sentence, status=400, fields={"lead": sentence}) from None
        episode = open_episode(
            by=me(request), client=client, opened=queries.today_of(client, now), now=now, **values
        )
        return Response(EpisodeOut(episode).data, status=201)
