"""The sheet of visits, past and coming."""

from __future__ import annotations

import re
from collections.abc import Hashable
from datetime import date, datetime

from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.models import Appointment, Room, VisitType
from clinic.booking.queries import UPCOMING, visit_types
from clinic.booking.vocab import AppointmentStatus, CancelReason
from clinic.people.importing import fields, times
from clinic.people.importing.cells import Cell
from clinic.people.importing.dates import read_date
from clinic.people.importing.faults import Fault
from clinic.people.importing.keys import derived_ref
from clinic.people.importing.lookups import client_of, clinician_of, plain_name
from clinic.people.importing.sheet import Context, Field, Reading, Row, Saved, Sheet, register
from clinic.people.importing.times import WallTime
from clinic.people.models import Staff
from clinic.people.rules.contacts import search_form

_SPOKEN: dict[str, tuple[str, ...]] = {
    AppointmentStatus.BOOKED: ("booked", "confirmed", "scheduled", "planned", "upcoming"),
    AppointmentStatus.FULFILLED: ("fulfilled", "attended", "completed", "complete", "done", "seen", "finished", "arrived"),
    AppointmentStatus.NOSHOW: ("noshow", "no show", "dna", "did not attend", "missed", "fta"),
    AppointmentStatus.CANCELLED: ("cancelled", "canceled", "late cancel", "late cancellation", "cancelled late", "cx"),
}
STATUSES = {word: str(code) for code, words in _SPOKEN.items() for word in words}
_HAPPENED = {AppointmentStatus.FULFILLED, AppointmentStatus.NOSHOW}


def _start(cell: Cell, reading: Reading) -> tuple[date, WallTime | None]:
    day, at = times.split_moment(cell)
    return read_date(day, reading.order), None if at is None else times.read_time(at)


FIELDS = (
    *fields.CLIENT,
    fields.text("external_ref", "Visit number", "visit id", "appointment id", "booking ref", "booking id", "ref", most=64),
    Field(
        "start", "Date", ("day", "start", "starts", "visit date", "appointment date", "date and time"),
        _start, needed=True, has_days=True,
    ),
    Field("time", "Time", ("at", "from", "time of day", "start time"), lambda cell, _: times.read_time(cell)),
    fields.whole("minutes", "Minutes", "duration", "length", "duration min", "mins", least=5, most=480),
    fields.CLINICIAN,
    fields.text("visit_type", "Visit type", "type", "appointment type", "service", needed=True),
    fields.text("room", "Room", "location"),
    fields.choice("status", "Status", STATUSES, "outcome", "attendance", "state"),
    fields.text("note", "Note", "notes", "comment", "comments"),
)


def _key(row: Row) -> Hashable | None:
    if row.get("external_ref"):
        return row["external_ref"]
    return row.get("client_ref") or row.get("client_name"), row.get("start"), row.get("time")


def _save(row: Row, context: Context) -> Saved:
    client = client_of(row, context)
    clinician = clinician_of(row, context)
    kind = _visit_type(row, context)
    room = _room(row, context)
    day, at = row["start"]
    wall = row.get("time") or at
    if wall is None:
        raise Fault("missing_value", "The row has a day but no time.", "Fill in the time.", "time")
    start = _instant(day, wall, row, context)
    status = row.get("status", AppointmentStatus.BOOKED)
    _refuse_out_of_time(start >= context.now, status, clinician)
    number = row.get("external_ref") or derived_ref(client.public_id, start.isoformat())
    known = Appointment.objects.filter(site=context.site, external_ref=number).first()
    if known:
        return _follow(known, start, status, context)
    import_visit(
        by=context.by, client=client, visit_type=kind, clinician=clinician, start=start, now=context.now, status=status,
        minutes=row.get("minutes", None), room=room, note=row.get("note"), external_ref=number,
    )
    open_past = start < context.now and status == AppointmentStatus.BOOKED
    said = ("outcome_open", "This visit is over, but the sheet does not say whether the client came.")
    return Saved("new", (said,) if open_past else ())


def _instant(day: date, wall: WallTime, row: Row, context: Context) -> datetime:
    try:
        return times.instant(day, wall, context.site.zone)
    except Fault as fault:
        fault.field = "time" if row.get("time") else "start"
        raise


def _refuse_out_of_time(coming: bool, status: str, clinician: Staff) -> None:
    if coming and status in _HAPPENED:
        raise Fault("not_yet", "This visit is still to come.", "Correct the date or the status.", "status")
    if coming and status == AppointmentStatus.BOOKED and not clinician.user.is_active:
        raise Fault("clinician_left", "This clinician no longer works here.", "Name another one.", "clinician")


def _follow(known: Appointment, start: datetime, status: str, context: Context) -> Saved:
    """A visit that is there already: what became of it is taken over, its time is not."""
    if known.starts != start:
        return Saved("unchanged", (("start_differs", "The visit here is at another time; it was kept."),))
    if known.status == status:
        return Saved("unchanged")
    if known.status not in UPCOMING:
        return Saved("unchanged", (("status_differs", "The visit here has another status; it was kept."),))
    if status == AppointmentStatus.CANCELLED:
        cancel_visit(by=context.by, appointment=known, reason=CancelReason.OTHER, now=context.now)
    else:
        mark_visit(by=context.by, appointment=known, status=status, now=context.now)
    return Saved("updated")


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", search_form(text)))


def _visit_type(row: Row, context: Context) -> VisitType:
    if "visit_types" not in context.memo:
        context.memo["visit_types"] = {
            _plain(text): kind for kind in visit_types() for text in (kind.code, kind.name)
        }
    known: dict[str, VisitType] = context.memo["visit_types"]
    found = known.get(_plain(row["visit_type"]))
    if found is None:
        names = ", ".join(sorted({kind.name for kind in known.values()}))
        raise Fault("unknown_visit_type", "There is no such type of visit.", f"Use one of: {names}.", "visit_type")
    return found


def _room(row: Row, context: Context) -> Room | None:
    if not row.get("room"):
        return None
    if "rooms" not in context.memo:
        context.memo["rooms"] = {plain_name(room.name): room for room in Room.objects.filter(site=context.site)}
    known: dict[str, Room] = context.memo["rooms"]
    found = known.get(plain_name(row["room"]))
    if found is None:
        names = ", ".join(room.name for room in known.values())
        raise Fault("unknown_room", "There is no such room.", f"Use one of: {names}, or leave it empty.", "room")
    return found


VISITS = Sheet(
    code="visits", label="Visits", fields=FIELDS, after=("clients",), key=_key, save=_save,
    requires=(fields.CLIENT_KNOWN_BY, ("start",), ("clinician",), ("visit_type",)),
    mends={
        "slot_taken": "Look up which of the two visits is right, and correct or remove the other.",
        "off_grid": "Write a time on a full five minutes.",
        "too_far": "Correct the year.",
        "number_taken": "Give each visit a number of its own.",
    },
)
register(VISITS)
