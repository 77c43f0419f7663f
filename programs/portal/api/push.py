"""Notifications on the client's own devices over the API."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import RoleView, idempotent
from clinic.people.queries import own_client
from clinic.people.vocab import Role
from clinic.reminders.actions.add_push_device import add_push_device
from clinic.reminders.actions.remove_push_device import remove_push_device
from clinic.reminders.queries import push_device_count, push_public_key
from programs.portal import serializers_own as shapes
from programs.portal.vocab import Scope

CLIENT = (Role.CLIENT,)


class PushDevices(RoleView):
    """The key to subscribe with and how many devices there are; adding one."""

    roles = {"GET": CLIENT, "POST": CLIENT}
    scopes = {"GET": Scope.REMINDERS, "POST": Scope.REMINDERS}

    @extend_schema(operation_id="my_push_devices", responses={200: shapes.PushOut})
    def get(self, request: Request) -> Response:
        held = {"key": push_public_key(), "devices": push_device_count(own_client(me(request)))}
        return Response(shapes.PushOut(held).data)

    @extend_schema(operation_id="add_my_push_device", request=shapes.PushIn, responses={204: None})
    @idempotent
    def post(self, request: Request) -> Response:
        given = shapes.PushIn(data=request.data)
        given.is_valid(raise_exception=True)
        session = getattr(request, "session", None)
        add_push_device(
            by=me(request), now=timezone.now(), session_key=(session.session_key or "") if session else "",
            **given.validated_data,
        )
        return Response(status=204)


class RemovePushDevice(RoleView):
    """Removing one by its endpoint."""

    roles = {"POST": CLIENT}
    scopes = {"POST": Scope.REMINDERS}

    @extend_schema(operation_id="remove_my_push_device", request=shapes.PushOffIn, responses={204: None})
    @idempotent
    def post(self, request: Request) -> Response:
        given = shapes.PushOffIn(data=request.data)
        given.is_valid(raise_exception=True)
        remove_push_device(by=me(request), endpoint=given.validated_data["endpoint"], now=timezone.now())
        return Response(status=204)
