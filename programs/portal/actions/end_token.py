"""End a token."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from programs.portal.models import AccessToken


@transaction.atomic
def end_token(*, by: User, token: AccessToken, now: datetime) -> None:
    """Its next request is refused. A second time changes nothing. `token` comes from a door that says who may end it."""
    if AccessToken.objects.filter(pk=token.pk, ended__isnull=True).update(ended=now):
        audit.record(by=by, verb="end_token", kind="token", public_id=token.public_id, at=now, client=token.client)
