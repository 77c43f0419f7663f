"""Cancel a visit."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import claiming
from clinic.booking.changes import note_change, state_of
from clinic.booking.models import Appointment
from clinic.booking.queries import locked
from clinic.booking.rules.status import NEXT
from clinic.booking.signals import appointment_changed
from clinic.booking.telling import tell_client, tell_rest_of_series
from clinic.booking.vocab import AppointmentStatus, CancelReason, ChangeKind
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def cancel_visit(*, by: User, appointment: Appointment, reason: str, now: datetime, undoable: bool = True) -> Appointment:
    """Cancel it, give its time back and tell the client. Cancelling a cancelled visit changes nothing.

    `reason` is a CancelReason. `undoable` offers to take it back.
    Refusals: `invalid` (400) for another reason, `wrong_step` (409) when it has already happened.
    """
    if reason not in CancelReason.values:
        raise Refusal(
            "invalid", "Say why the visit is cancelled.", status=400,
            fields={"reason": "Choose one of: " + ", ".join(CancelReason.values) + "."},
        )
    fresh = locked(appointment)
    if fresh.status == AppointmentStatus.CANCELLED:
        return fresh
    if AppointmentStatus.CANCELLED not in NEXT[fresh.status]:
        raise Refusal(
            "wrong_step", f"This visit is marked {fresh.get_status_display().lower()}. It cannot be cancelled.",
            status=409, state=fresh.status,
        )
    before = state_of(fresh)
    fresh.status, fresh.cancel_reason, fresh.version = AppointmentStatus.CANCELLED, reason, fresh.version + 1
    fresh.changed_at = now
    fresh.save(update_fields=["status", "cancel_reason", "version", "changed_at"])
    claiming.release(fresh)
    if undoable:
        note_change(ChangeKind.CANCELLED, fresh, before, by, now)
    audit.record(
        by=by, verb="cancel_visit", kind="appointment", public_id=fresh.public_id, at=now, client=fresh.client,
        was=before["status"], reason=reason,
    )
    tell_client("visit_cancelled", fresh, by=by, now=now)
    tell_rest_of_series(fresh, by=by, now=now)
    appointment_changed.send(sender=Appointment, appointment=fresh, now=now, by=by)
    return fresh
