"""Reminders, devices and measures over the API."""

from __future__ import annotations

from datetime import time
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.queries import consents, own_client
from clinic.people.vocab import Role
from clinic.visits.queries import own_results
from programs.following.nudging import nudge_of
from programs.portal import serializers_own as shapes
from programs.portal.actions.choose_reminders import choose_reminders
from programs.portal.actions.end_device import end_device
from programs.portal.queries.devices import my_device, my_devices
from programs.portal.vocab import Scope

CLIENT = (Role.CLIENT,)


def _reminders(client: Any) -> Response:
    held = [channel for channel, granted in sorted(consents(client).items()) if granted]
    wish = nudge_of(client)
    return Response(
        shapes.RemindersOut(
            {
                "channels": held, "quiet_from": client.quiet_from.isoformat("minutes"),
                "quiet_until": client.quiet_until.isoformat("minutes"),
                "nudge_at": wish.at.isoformat("minutes") if wish else None,
            }
        ).data
    )


class Reminders(RoleView):
    """How and when the client wants to hear from the clinic."""

    roles = {"GET": CLIENT, "PUT": CLIENT}
    scopes = {"GET": Scope.REMINDERS, "PUT": Scope.REMINDERS}

    @extend_schema(operation_id="my_reminders", responses={200: shapes.RemindersOut})
    def get(self, request: Request) -> Response:
        return _reminders(own_client(me(request)))

    @extend_schema(
        operation_id="choose_my_reminders", request=shapes.RemindersIn, responses={200: shapes.RemindersOut}
    )
    @idempotent
    def put(self, request: Request) -> Response:
        given = shapes.RemindersIn(data=request.data)
        given.is_valid(raise_exception=True)
        values = given.validated_data
        wish = {}
        if "nudge_at" in values:
            wish["nudge_at"] = time.fromisoformat(values["nudge_at"]) if values["nudge_at"] else None
        return _reminders(
            choose_reminders(
                by=me(request), channels=set(values["channels"]), quiet_from=time.fromisoformat(values["quiet_from"]),
                quiet_until=time.fromisoformat(values["quiet_until"]), now=timezone.now(), **wish,
            )
        )


class DevicePages(Pages):
    ordering = ("-last", "-pk")   # type: ignore[assignment]   # DRF takes several as well


class Devices(RoleView):
    """Where the client is signed in."""

    roles = {"GET": CLIENT}

    @extend_schema(operation_id="list_my_devices", responses={200: paged(shapes.DeviceOut)})
    def get(self, request: Request) -> Response:
        pages = DevicePages()
        rows = pages.paginate_queryset(my_devices(me(request), timezone.now()), request, self)
        here = {"session_key": request.session.session_key}
        return pages.get_paginated_response(shapes.DeviceOut(rows, many=True, context=here).data)


class EndDevice(RoleView):
    """Signing one of them out."""

    roles = {"POST": CLIENT}

    @extend_schema(operation_id="end_my_device", request=None, responses={204: None})
    @idempotent
    def post(self, request: Request, public_id: UUID) -> Response:
        now = timezone.now()
        end_device(by=me(request), device=my_device(me(request), public_id, now), now=now)
        return Response(status=204)


class MeasurePages(Pages):
    ordering = ("-at", "-pk")   # type: ignore[assignment]   # DRF takes several as well


class Measures(RoleView):
    """What was measured, the newest first."""

    roles = {"GET": CLIENT}
    scopes = {"GET": Scope.MEASURES}

    @extend_schema(operation_id="list_my_measures", responses={200: paged(shapes.MeasuredOut)})
    def get(self, request: Request) -> Response:
        pages = MeasurePages()
        rows = pages.paginate_queryset(own_results(me(request)), request, self)
        return pages.get_paginated_response(shapes.MeasuredOut(rows, many=True).data)
