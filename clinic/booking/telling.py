"""Puts a message about a visit into the outbox, with a first name and a time in the client's language."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import dateformat, translation

from clinic.booking.models import Appointment, ProposedMove
from clinic.booking.queries import UPCOMING, reminder_due, visits_in
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import User
from clinic.people.rules import zones
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message
from clinic.reminders.vocab import MessageState

USELESS_BEFORE = timedelta(hours=1)   # a message that would come later than this before the visit is not sent
WITH_LINK = ("visits_booked", "visit_offered", "visit_set_aside")   # what is said there needs the page of visits
DAY_FORMAT = {"en": "l j F", "es": r"l j \d\e F"}


def tell_client(kind: str, appointment: Appointment, *, by: User, now: datetime, first: bool = False) -> bool:
    """Queue `kind` once per visit and version. False when it is too late to be of use, or already queued. `first`: the visit
    was booked in this very transaction."""
    last = appointment.starts - USELESS_BEFORE
    due = max(now, reminder_due(appointment)) if kind == "visit_reminder" else now
    if last < due:
        return False
    message = queue_message(
        by=by, kind=kind, to=appointment.client, about=about(appointment),
        dedup_key=f"{kind}:{appointment.public_id}:{appointment.version}", due=due, not_after=last, now=now,
        values=values(appointment) | ({"url": "/portal/visits/"} if kind in WITH_LINK else {}), first=first,
    )
    return message is not None


def ask_client(move: ProposedMove, *, by: User, now: datetime) -> bool:
    """Queue the question whether the proposed time suits, once for each time. False when it is too late to be of use."""
    visit, starts = move.appointment, move.starts
    if starts is None or starts - USELESS_BEFORE < now:
        return False
    message = queue_message(
        by=by, kind="visit_move_asked", to=visit.client, about=f"move:{move.public_id}",
        dedup_key=f"visit_move_asked:{move.public_id}:{starts.isoformat()}", due=now, not_after=starts - USELESS_BEFORE,
        now=now, values=values(visit, starts) | {"url": "/portal/visits/"},
    )
    return message is not None


def set_right(appointment: Appointment, *, by: User, now: datetime) -> None:
    """After a change was taken back: tell the client what holds, when the last message that left says otherwise.

    One that still waits is skipped by its own check, so that a change undone in time is never heard of.
    """
    queued = list(
        Message.objects.filter(about=about(appointment), kind__in=("visit_booked", "visit_moved", "visit_cancelled"))
        .order_by("pk")
    )
    left = [row for row in queued if row.state in (MessageState.SENT, MessageState.CLAIMED, MessageState.UNKNOWN)]
    last = left[-1] if left else None
    stands = appointment.status in (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)
    if appointment.status == AppointmentStatus.CANCELLED:
        kind = "visit_cancelled" if last and last.kind != "visit_cancelled" else None
    elif not stands or not queued:
        kind = None
    elif last is None or last.kind == "visit_cancelled":
        kind = "visit_booked"
    else:
        kind = "visit_moved" if last.values != values(appointment) else None
    if kind is not None:
        tell_client(kind, appointment, by=by, now=now)


def tell_rest_of_series(changed: Appointment, *, by: User, now: datetime) -> None:
    """After a visit of a series was moved or cancelled: where the word about the whole series still waits on that visit and
    is skipped for it, queue it anew for the first visit that stands."""
    if changed.series is None:
        return
    waiting = Message.objects.filter(about=about(changed), kind="visits_booked", state=MessageState.PENDING)
    if not waiting.exists():
        return
    first = next((visit for visit in visits_in(changed.series) if visit.status in UPCOMING), None)
    if first is not None:
        tell_client("visits_booked", first, by=by, now=now)


def about(appointment: Appointment) -> str:
    """How the outbox names a visit."""
    return f"appointment:{appointment.public_id}"


def values(appointment: Appointment, starts: datetime | None = None) -> dict[str, str]:
    """The texts for the wording's placeholders, on the site's clock: that is where the visit is, or would be at `starts`."""
    local = (starts or appointment.starts).astimezone(zones.zone(appointment.site.zone))
    language = appointment.client.language.split("-")[0]
    with translation.override(language):
        day = dateformat.format(local, DAY_FORMAT.get(language, DAY_FORMAT["en"]))
    return {
        "first_name": appointment.client.given_name,
        "day": day,
        "time": f"{local:%H:%M}",
        "clinic": appointment.site.name,
        "phone": appointment.site.phone,
    }
