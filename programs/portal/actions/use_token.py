"""A request came with a token."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.models import Q

from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.portal.models import AccessToken
from programs.portal.queries.tokens import TO_THE, TokenPass, acts_for, token_by_secret


def use_token(*, secret: str, client_id: UUID | None, now: datetime) -> tuple[User, TokenPass] | None:
    """Whom it stands in for and what it may do; None for a token that is unknown, ended or too old.

    Its last use is kept to the minute. Refusal `no_agreement` (403): no such client, or they did not agree.
    """
    token = token_by_secret(secret, now)
    if token is None:
        return None
    stale = Q(last_used__isnull=True) | Q(last_used__lte=now - TO_THE)
    if token.last_used is None or token.last_used <= now - TO_THE:
        AccessToken.objects.filter(stale, pk=token.pk).update(last_used=now)
    user = acts_for(token, client_id)
    if user is None:
        raise Refusal("no_agreement", "No client of that number lets this token act for them.", status=403)
    return user, TokenPass(token.public_id, frozenset(token.scopes))
