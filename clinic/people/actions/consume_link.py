"""Use a mailed sign-in link."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import SignInLink, User
from clinic.people.signin import hash_token


@transaction.atomic
def consume_link(*, token: str, now: datetime) -> User | None:
    """The person the link is for, once; None when it is unknown, used, too old, or the person may not sign in."""
    digest = hash_token(token)
    used = SignInLink.objects.filter(
        token_hash=digest, used_at__isnull=True, expires__gte=now, user__is_active=True
    ).update(used_at=now)
    if not used:
        return None
    user = SignInLink.objects.select_related("user").get(token_hash=digest).user
    audit.record(
        by=user, verb="sign_in_by_link", kind="user", public_id=user.public_id, at=now,
        client=getattr(user, "client", None),
    )
    return user
