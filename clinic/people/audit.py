"""Writing the append-only record."""

from __future__ import annotations

from contextvars import ContextVar
from datetime import datetime
from typing import Any

from clinic.people.models import AuditEvent, Client, User

through: ContextVar[str] = ContextVar("through", default="")   # the token that this request came with


def record(*, by: User, verb: str, kind: str, public_id: Any, at: datetime, client: Client | None, **detail: Any) -> None:
    """Write one audit row. `detail` holds codes, ids and field names; never names or the text of notes."""
    if through.get():
        detail["token"] = through.get()
    AuditEvent.objects.create(by=by, verb=verb, record=f"{kind}:{public_id}", at=at, client=client, detail=detail)
