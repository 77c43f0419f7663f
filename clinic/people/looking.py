"""Who looked at whose record. Doors note the client they opened; the middleware writes it down once the page is served.

Doors stay reads: they only put a client's key into the request's own set. Outside a request nothing is noted.
"""

from __future__ import annotations

import logging
from contextvars import ContextVar
from datetime import datetime, timedelta

from django.core.cache import cache
from django.db import DatabaseError

from clinic.people.models import AuditEvent, User
from clinic.people.vocab import Role

log = logging.getLogger(__name__)
WATCHED = {Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD}   # clients read their own record
AGAIN = timedelta(minutes=10)   # the same person on the same page of the same client is one look

_seen: ContextVar[dict[int, int] | None] = ContextVar("seen", default=None)   # client's key -> user's key


def note(user: User, client: int) -> None:
    """A door opened this client's record to this user."""
    seen = _seen.get()
    if seen is not None and user.role in WATCHED:
        seen[client] = user.pk


def begin() -> object:
    """Start noting for one request; hand the result to `end`."""
    return _seen.set({})


def end(token: object, *, route: str, served: bool, now: datetime) -> None:
    """Stop noting; write one row a client when the page was `served`. A trail that cannot be written is logged as an
    error and hides nothing from whoever treats the client."""
    seen = _seen.get() or {}
    _seen.reset(token)   # type: ignore[arg-type]
    if not served:
        return
    fresh = [(client, user) for client, user in seen.items() if _first_look(client, user, route)]
    if not fresh:
        return
    rows = [
        AuditEvent(at=now, by_id=user, verb="look", record=f"page:{route}"[:80], client_id=client) for client, user in fresh
    ]
    try:
        AuditEvent.objects.bulk_create(rows)
    except DatabaseError:
        log.error("trail not written for %s", route)


def _first_look(client: int, user: int, route: str) -> bool:
    try:
        return cache.add(f"look:{user}:{client}:{route}", 1, AGAIN.total_seconds())
    except Exception:   # a cache that is away, whatever its library raises, must not hide a look
        return True
