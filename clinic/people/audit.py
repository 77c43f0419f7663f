"""Writing the append-only record."""

from __future__ import annotations

from collections.abc import Iterable
from contextvars import ContextVar
from datetime import datetime
from typing import Any

from clinic.people.models import AuditEvent, Client, User

through: ContextVar[str] = ContextVar("through", default="")   # the token that this request came with


def record(*, by: User, verb: str, kind: str, public_id: Any, at: datetime, client: Client | None, **detail: Any) -> None:
    """Write one audit row. `detail` holds codes, ids and field names; never names or the text of notes."""
    event(by=by, verb=verb, kind=kind, public_id=public_id, at=at, client=client, **detail).save(force_insert=True)


def event(
    *, by: User, verb: str, kind: str, public_id: Any, at: datetime, client: Client | None, **detail: Any
) -> AuditEvent:
    """The row that `record` writes, for many that are written at once by `record_all`."""
    if through.get():
        detail["token"] = through.get()
    return AuditEvent(by=by, verb=verb, record=f"{kind}:{public_id}", at=at, client=client, detail=detail)


def record_all(events: Iterable[AuditEvent]) -> None:
    """Write the rows in their order, in one statement."""
    AuditEvent.objects.bulk_create(events)
