"""Tokens: whose they are, what they carry, and for whom they act."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from clinic.people.models import Client, User
from clinic.people.queries import own_client, sites_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from programs.portal.models import AccessToken, Agreement

MARK = "iv_"                       # so that a leaked one is recognised as what it is
TO_THE = timedelta(minutes=1)      # how exactly its last use is kept


@dataclass(frozen=True, slots=True)
class TokenPass:
    """What a request with a token carries."""

    public_id: UUID
    scopes: frozenset[str]


def hash_secret(secret: str) -> str:
    """SHA-256 of a secret of 256 random bits: nothing slower is needed, for nobody can guess it (OWASP ASVS 5.0, 11.4)."""
    return hashlib.sha256(secret.encode()).hexdigest()


def token_by_secret(secret: str, now: datetime) -> AccessToken | None:
    """The token, while it holds."""
    return AccessToken.objects.filter(token_hash=hash_secret(secret), ended__isnull=True, expires__gt=now).first()


def acts_for(token: AccessToken, client_id: UUID | None) -> User | None:
    """The signed-in user that a token stands in for: its client, or the one named, if they agreed.

    None for everybody else, and for nobody alike.
    """
    open_clients = Client.objects.filter(archived__isnull=True, user__is_active=True).select_related("user")
    if token.client_id is not None:
        client = open_clients.filter(pk=token.client_id).first()
        named = client_id is None or (client is not None and client.public_id == client_id)
        return client.user if client and named else None
    if client_id is None:
        return None
    agreed = Agreement.objects.filter(token=token, client=OuterRef("pk"), until__isnull=True)
    client = open_clients.filter(Exists(agreed), site=token.site_id, public_id=client_id).first()
    return client.user if client else None


def own_tokens(user: User, now: datetime) -> QuerySet[AccessToken]:
    """The signed-in client's own tokens that hold, the newest first."""
    return AccessToken.objects.filter(client=own_client(user), ended__isnull=True, expires__gt=now)


def asking_tokens(user: User, now: datetime) -> QuerySet[AccessToken]:
    """The clinic's own portals at the client's site, each with `agreed`: whether this client lets it act for them."""
    client = own_client(user)
    agreed = Agreement.objects.filter(token=OuterRef("pk"), client=client, until__isnull=True)
    rows = AccessToken.objects.filter(site=client.site, ended__isnull=True, expires__gt=now)
    return rows.annotate(agreed=Exists(agreed))


def site_tokens(user: User) -> QuerySet[AccessToken]:
    """All tokens of the lead's sites' own portals, the newest first, with how many clients agreed. For the lead only."""
    if user.role != Role.LEAD:
        raise NotThere
    agreed = Count("agreements", filter=Q(agreements__until__isnull=True))
    rows = AccessToken.objects.filter(site__in=sites_for(user)).select_related("site").annotate(agreed=agreed)
    return rows.order_by("-created", "-pk")


def token_for(user: User, public_id: UUID, now: datetime) -> AccessToken:
    """One that the user may end: their own, or, for a lead, one of their sites. NotThere otherwise."""
    rows = site_tokens(user) if user.role == Role.LEAD else own_tokens(user, now)
    token = rows.filter(public_id=public_id).first()
    if token is None:
        raise NotThere
    return token


def asking_token_for(user: User, public_id: UUID, now: datetime) -> AccessToken:
    """One of the clinic's own portals that the client may let act for them."""
    token = asking_tokens(user, now).filter(public_id=public_id).first()
    if token is None:
        raise NotThere
    return token
