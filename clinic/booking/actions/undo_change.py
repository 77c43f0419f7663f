"""Take back what was just done to a visit: a mark, a cancellation, a move."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import claiming
from clinic.booking.changes import put_back, state_of
from clinic.booking.models import Appointment, Change
from clinic.booking.queries import UNDO_FOR, locked
from clinic.booking.signals import appointment_changed
from clinic.booking.telling import set_right
from clinic.booking.vocab import HOLDING, AppointmentStatus
from clinic.people import audit
from clinic.people.models import Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


def undo_change(*, by: User, change: Change, now: datetime) -> Appointment:
    """Put the visit back to what it was, within a minute, past the same wall as a booking. A second time changes nothing.

    Refusals (409): `too_late` after a minute, `changed_meanwhile` when something else happened to the visit since,
    `slot_taken` when somebody has the hour by now; `try_again` (503).
    """
    visit = change.appointment
    before = change.before
    asked = claiming.Asked(
        visit.site, visit.visit_type, Staff.objects.get(pk=before["clinician_id"]), visit.client,
        datetime.fromisoformat(before["starts"]), now, moving=visit,
    )
    try:
        return claiming.or_refuse(lambda: _write(change, by, now), asked)
    except Refusal as refusal:
        if refusal.code != "slot_taken":
            raise
        raise Refusal(
            "slot_taken", f"It cannot be taken back: the hour has gone meanwhile. {refusal.sentence}", status=409,
            **refusal.numbers,
        ) from refusal


@in_one_transaction
def _write(seen: Change, by: User, now: datetime) -> Appointment:
    old = seen.appointment
    claiming.lock([old.clinician_id, seen.before["clinician_id"]], old.client, old.site)
    visit = locked(old)
    change = Change.objects.get(pk=seen.pk)
    if change.undone_at is not None:
        return visit
    if now - change.at > UNDO_FOR:
        raise Refusal("too_late", "That was more than a minute ago. Open the visit to change it.", status=409)
    if Change.objects.filter(appointment=visit, pk__gt=change.pk).exists():
        raise Refusal("changed_meanwhile", "This visit was changed again since. Open it to change it.", status=409)
    was = state_of(visit)
    put_back(visit, change.before)
    told_anew = visit.status not in HOLDING or was["status"] not in HOLDING or was["starts"] != change.before["starts"]
    told_anew |= visit.status == AppointmentStatus.PENDING   # the message that it is booked must not leave
    visit.version += told_anew
    visit.changed_at = now
    if visit.status in HOLDING:
        claiming.settle(visit, first=visit.room)
    claiming.take(visit)
    change.undone_at = now
    change.save(update_fields=["undone_at"])
    audit.record(
        by=by, verb="undo_change", kind="appointment", public_id=visit.public_id, at=now, client=visit.client,
        undone=change.kind, was=was["status"], status=visit.status,
    )
    if told_anew:
        set_right(visit, by=by, now=now)
    appointment_changed.send(sender=Appointment, appointment=visit, now=now, by=by)
    return visit
