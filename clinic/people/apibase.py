"""What every API view stands on: closed by default, problem+json errors, idempotent writes, cursor pages."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404
from django.utils import timezone
from rest_framework import exceptions
from rest_framework.pagination import CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from clinic.people.access import me
from clinic.people.models import IdempotencyKey
from clinic.people.permissions import RolePermission, TokenThrottle
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction
from clinic.people.vocab import Role


class RoleView(APIView):
    """Base of every API view. Set `roles = {"GET": (Role.CLIENT,), …}`; a method without roles is closed.

    `scopes = {"GET": "plan"}` opens a method to tokens that carry the scope as well; without it, a token is refused.
    """

    roles: dict[str, tuple[Role, ...]] = {}
    scopes: dict[str, str] = {}
    permission_classes = [RolePermission]
    throttle_classes = [TokenThrottle]

    def finalize_response(self, request: Any, response: Any, *args: Any, **kwargs: Any) -> Any:
        """What a token reads is kept by no cache, as what a session reads."""
        answer = super().finalize_response(request, response, *args, **kwargs)
        if "Authorization" in request.headers and "Cache-Control" not in answer:
            answer["Cache-Control"] = "no-store"
        return answer


class Pages(CursorPagination):
    """Cursor pages of at most 100 rows in a stable order."""

    page_size = 25
    page_size_query_param = "page_size"
    max_page_size = 100
    ordering = "-pk"


def _body(status: int, code: str, detail: str, fields: dict[str, Any], numbers: dict[str, Any]) -> dict[str, Any]:
    body: dict[str, Any] = {"type": "about:blank", "title": code, "status": status, "detail": detail}
    if fields:
        body["errors"] = fields
    return {**body, **numbers}


def problem(error: Exception, context: dict[str, Any]) -> Response | None:
    """RFC 9457 problem details for everything an API view may raise; None lets Django answer 500."""
    headers: dict[str, str] = {}
    if isinstance(error, Refusal):
        status, body = error.status, _body(error.status, error.code, error.sentence, error.fields, error.numbers)
        if "retry_after" in error.numbers:
            headers["Retry-After"] = str(error.numbers["retry_after"])
        if error.code == "insufficient_scope":   # RFC 6750, 3.1
            headers["WWW-Authenticate"] = f'Bearer error="insufficient_scope", scope="{error.numbers["scope"]}"'
    elif isinstance(error, Http404 | PermissionDenied):
        status, body = 404, _body(404, "not_found", "There is nothing here that you can see.", {}, {})
    elif isinstance(error, exceptions.ValidationError):
        fields = error.detail if isinstance(error.detail, dict) else {"": error.detail}
        status, body = 400, _body(400, "invalid", "Some values cannot be used.", fields, {})
    elif isinstance(error, exceptions.APIException):
        status, body = error.status_code, _body(error.status_code, error.default_code, str(error.detail), {}, {})
        if isinstance(error, exceptions.NotAuthenticated | exceptions.AuthenticationFailed):
            refused = isinstance(error, exceptions.AuthenticationFailed)
            headers["WWW-Authenticate"] = 'Bearer error="invalid_token"' if refused else "Bearer"
        if isinstance(error, exceptions.Throttled):
            headers["Retry-After"] = str(math.ceil(getattr(error, "wait", None) or 1))
    else:
        return None
    response = Response(body, status=status, headers=headers)
    response.content_type = "application/problem+json"
    return response


def idempotent(method: Callable[..., Response]) -> Callable[..., Response]:
    """Answer a repeated POST carrying the same Idempotency-Key with the first answer.

    Same key and other body: 422. Without the header: no effect.
    """

    @wraps(method)
    def answered(view: APIView, request: Request, *args: Any, **kwargs: Any) -> Response:
        key = request.headers.get("Idempotency-Key", "")
        if not key:
            return method(view, request, *args, **kwargs)
        if len(key) > 80:
            raise Refusal("bad_idempotency_key", "Idempotency-Key may have 80 characters at most.", status=400)
        text = f"{request.method} {request.path} {json.dumps(request.data, sort_keys=True, default=str)}"
        digest = hashlib.sha256(text.encode()).hexdigest()
        answer = _first(method, view, request, key, digest, args, kwargs)
        return _again(request, key, digest) if answer is None else answer

    return answered


@in_one_transaction
def _first(
    method: Callable[..., Response], view: APIView, request: Request, key: str, digest: str, args: Any, kwargs: Any
) -> Response | None:
    """Key, work and answer in one transaction: whatever dies in between, all three stay or none. None: the key is taken.

    The same key sent meanwhile waits at the unique index for this one to end.
    """
    try:
        with transaction.atomic():
            row = IdempotencyKey.objects.create(
                user=me(request), key=key, request_hash=digest, created=timezone.now()
            )
    except IntegrityError:
        return None
    response = method(view, request, *args, **kwargs)
    IdempotencyKey.objects.filter(pk=row.pk).update(
        status=response.status_code, body=json.loads(json.dumps(response.data, default=str))
    )
    return response


ABANDONED = timedelta(minutes=2)


def _again(request: Request, key: str, digest: str) -> Response:
    row = IdempotencyKey.objects.filter(user=me(request), key=key).first()
    if row and row.status is None and row.created < timezone.now() - ABANDONED:
        row.delete()   # its process died before it could answer; the next try starts afresh
    if row is None or row.status is None:
        raise Refusal("still_running", "The first request with this key is still running.", status=409, retry_after=1)
    if row.request_hash != digest:
        raise Refusal("key_reused", "This Idempotency-Key was used with other content.", status=422)
    return Response(row.body, status=row.status)
