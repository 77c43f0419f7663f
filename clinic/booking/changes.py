"""What a visit was before a change: noted by every action that changes one, read by the one that takes it back."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from clinic.booking.models import Appointment, Change
from clinic.booking.vocab import ChangeKind
from clinic.people.models import User

INSTANTS = ("starts", "ends", "busy_from", "busy_until")
KEYS = ("status", "cancel_reason", "clinician_id", "room_id")


def state_of(appointment: Appointment) -> dict[str, Any]:
    """Everything that marking, cancelling and moving can change, as plain values."""
    return {key: getattr(appointment, key) for key in KEYS} | {
        key: getattr(appointment, key).isoformat() for key in INSTANTS
    }


def put_back(appointment: Appointment, before: dict[str, Any]) -> None:
    """Give the visit those values again, unsaved."""
    for key in KEYS:
        setattr(appointment, key, before[key])
    for key in INSTANTS:
        setattr(appointment, key, datetime.fromisoformat(before[key]))


def note_change(kind: ChangeKind, appointment: Appointment, before: dict[str, Any], by: User, now: datetime) -> None:
    """Keep `before`, in the transaction that changes the visit."""
    Change.objects.create(appointment=appointment, kind=kind, before=before, at=now, by=by)
