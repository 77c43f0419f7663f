"""The client's program on paper, over the API."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import NotAcceptable
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import RoleView
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from programs.portal.queries.own import chosen_program, day_of
from programs.portal.vocab import Scope
from programs.prescribing.paper.making import handout_of


class PaperFile(BaseRenderer):
    """PDF; a problem is JSON all the same."""

    media_type, format, charset, render_style = "application/pdf", "pdf", None, "binary"

    def render(self, data: Any, accepted_media_type: Any = None, renderer_context: Any = None) -> bytes:
        return data if isinstance(data, bytes) else JSONRenderer().render(data)


class Handout(RoleView):
    """The handout of one of the client's own programs, to print: what the page `My weeks` offers."""

    roles = {"GET": (Role.CLIENT,)}
    scopes = {"GET": Scope.PLAN}
    renderer_classes = [PaperFile, JSONRenderer]

    @extend_schema(operation_id="my_handout", responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    def get(self, request: Request, public_id: UUID) -> Response:
        client, program, _others = chosen_program(me(request), public_id)
        if program is None:
            raise NotThere
        if request.accepted_renderer.format != PaperFile.format:
            raise NotAcceptable
        paper = handout_of(program, day_of(client, timezone.now()))
        return Response(paper, content_type="application/pdf", headers={"Cache-Control": "private, no-store"})
