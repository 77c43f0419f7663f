"""Make a token: a client for themselves, or a lead for the clinic's own portal."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_noop

from clinic.people import audit
from clinic.people.models import Site, User
from clinic.people.queries import own_client, sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.portal.models import AccessToken
from programs.portal.queries.tokens import MARK, hash_secret, own_tokens
from programs.portal.vocab import Scope

MOST_TOKENS = 10        # of one client, at a time
MOST_DAYS = 366


@transaction.atomic
def make_token(
    *, by: User, label: str, scopes: set[str], days: int, now: datetime, site: Site | None = None
) -> tuple[AccessToken, str]:
    """The token and its secret, which is not kept and never shown again.

    Refusals: `invalid` (400) without a name, without a scope, or for longer than a year; `too_many` (409).
    NotThere for a site that is not the lead's.
    """
    _look_at(label, scopes, days)
    client = None
    if site is None:
        client = own_client(by)
        if own_tokens(by, now).count() >= MOST_TOKENS:
            raise Refusal("too_many", "You have ten already. End one that you do not use.", status=409)
    elif by.role != Role.LEAD or not sites_for(by).filter(pk=site.pk).exists():
        raise NotThere
    secret = MARK + secrets.token_urlsafe(32)
    token = AccessToken.objects.create(
        client=client, site=site, label=label.strip(), token_hash=hash_secret(secret), scopes=sorted(scopes), by=by,
        created=now, expires=now + timedelta(days=days),
    )
    audit.record(
        by=by, verb="make_token", kind="token", public_id=token.public_id, at=now, client=client, scopes=token.scopes,
        days=days,
    )
    return token, secret


def _look_at(label: str, scopes: set[str], days: int) -> None:
    fields: dict[str, str] = {}
    if not 1 <= len(label.strip()) <= 60:
        fields["label"] = gettext_noop("Give it a name of up to 60 letters, so that you know it again.")
    if not scopes or not scopes <= set(Scope):
        fields["scopes"] = gettext_noop("Choose what it may do.")
    if not 1 <= days <= MOST_DAYS:
        fields["days"] = gettext_noop("Choose how long it holds.")
    if fields:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=fields)
