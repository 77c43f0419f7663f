"""Sign-in by token: `Authorization: Bearer …` (RFC 6750), read from the header only, never from an address."""

from __future__ import annotations

from uuid import UUID

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.portal.actions.use_token import use_token
from programs.portal.queries.tokens import TokenPass

MOST_LETTERS = 200   # of a header that is looked at


class BearerToken(BaseAuthentication):
    """A client's own token, or a clinic's own portal's with `Intervale-Client`, the id of the client it acts for."""

    def authenticate(self, request: Request) -> tuple[User, TokenPass] | None:
        """None without such a header: then the session decides. 401 `invalid_token` when it does not hold (any more)."""
        kind, _, secret = request.headers.get("Authorization", "").partition(" ")
        if kind.lower() != "bearer":
            return None
        found = use_token(
            secret=secret.strip()[:MOST_LETTERS], client_id=_client(request.headers.get("Intervale-Client", "")),
            now=timezone.now(),
        )
        if found is None:
            raise AuthenticationFailed("This token is unknown, has ended, or is too old.")
        audit.through.set(str(found[1].public_id))
        return found

    def authenticate_header(self, request: Request) -> str:
        return "Bearer"


def _client(text: str) -> UUID | None:
    if not text:
        return None
    try:
        return UUID(text)
    except ValueError:
        raise Refusal("invalid", "Intervale-Client is the id of a client.", status=400) from None
