"""How the API describes itself: its sign-in, its error body, its pages."""

from __future__ import annotations

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.utils import inline_serializer
from rest_framework import serializers

from clinic.people.permissions import ANY_SCOPE

PROBLEM = {
    "type": "object",
    "description": "RFC 9457 problem details. `title` is a code; a refusal adds the numbers behind it.",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string", "description": "A code, such as slot_taken"},
        "status": {"type": "integer"},
        "detail": {"type": "string", "description": "A sentence for a person"},
        "errors": {"type": "object", "description": "What is wrong, by field"},
    },
    "additionalProperties": True,
}
READS = {
    "400": "Some values cannot be used; `errors` names them.", "401": "Not signed in.",
    "403": "The token may not do this; or a write without the word that shows where it comes from.",
    "429": "Too many requests with this token; `Retry-After` says when to go on.",
    "404": "Not there, or not for you: both look alike.", "406": "Accept asks for something else than what there is.",
    "503": "The records are very busy or cannot be reached at this moment; `Retry-After` says when to ask again.",
}
WRITES = {
    **READS, "409": "In conflict with what is stored.",
    "413": "Too large.", "415": "Not application/json.", "422": "This Idempotency-Key was used with other content.",
    "507": "Nothing can be written: the disk is full or locked. What is stored can be read.",
}


class SessionScheme(OpenApiAuthenticationExtension):
    """The session cookie."""

    target_class = "clinic.people.permissions.SessionWith401"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """An API key in a cookie, in OpenAPI's words."""
        return {"type": "apiKey", "in": "cookie", "name": "session"}


class TokenScheme(OpenApiAuthenticationExtension):
    """A token with scopes (RFC 6750). An operation names the scope it wants; those without one take no token."""

    target_class = "programs.portal.bearer.BearerToken"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}

    def get_security_requirement(self, auto_schema: Any) -> Any:
        """{name: [scope]} of the operation; None where a token opens nothing."""
        scope = getattr(auto_schema.view, "scopes", {}).get(auto_schema.method, "")
        if not scope:
            return None
        return {self.name: [] if scope == ANY_SCOPE else [scope]}


def paged(row: type[serializers.BaseSerializer[Any]]) -> Any:
    """The answer of a list: one cursor page of `row`."""
    return inline_serializer(
        f"{row.__name__}Page",
        {
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": row(many=True),
        },
    )


def describe_errors(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """Post-processing: every operation names the errors it may answer with."""
    result["components"].setdefault("schemas", {})["Problem"] = PROBLEM
    body = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for path in result["paths"].values():
        for method, operation in path.items():
            for status, words in (READS if method == "get" else WRITES).items():
                operation["responses"].setdefault(status, {"description": words, "content": body})
    return result
