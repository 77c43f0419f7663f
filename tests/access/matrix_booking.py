"""Who may open what of booking. The visit is that of Ada with Mina, three days from now."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.close_days import close_days
from clinic.booking.actions.join_waitlist import join_waitlist
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.actions.open_group import open_group
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.models import Appointment, SpecialHours, VisitType, WorkingHours
from tests.access.roles import Row

#                anonymous ada  bo   desk mina theo lead deactivated
STAFF_PAGE = (302, 404, 404, 200, 200, 200, 200, 302)
STAFF_API = (401, 404, 404, 200, 200, 200, 200, 401)
OWN_PAGE = (302, 404, 404, 200, 200, 404, 200, 302)
OWN_API = (401, 404, 404, 200, 200, 404, 200, 401)
OWN_DONE = (302, 404, 404, 302, 302, 404, 302, 302)
OWN_MADE = (401, 404, 404, 201, 201, 404, 201, 401)


def _soon(cast, hour=10):
    WorkingHours.objects.update(rule="FREQ=DAILY")
    return (timezone.now() + timedelta(days=3)).replace(hour=hour, minute=0, second=0, microsecond=0)


def _visit(cast):
    visit = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=_soon(cast),
        now=timezone.now(),
    )
    return {"public_id": visit.public_id}


def _change(cast):
    """Mina cancelled it: only she can take that back."""
    visit = Appointment.objects.get(public_id=_visit(cast)["public_id"])
    cancel_visit(by=cast.mina.user, appointment=visit, reason="client", now=timezone.now())
    return {"public_id": visit.changes.get().public_id}


def _freed(cast):
    """Ada's hour with Mina, given back."""
    made = _visit(cast)
    cancel_visit(
        by=cast.mina.user, appointment=Appointment.objects.get(**made), reason="client", now=timezone.now()
    )
    return made


def _closed(cast):
    close_days(by=cast.desk.user, site=cast.site, days=[(_soon(cast).date(), "Stocktaking")], now=timezone.now())
    return {"public_id": SpecialHours.objects.get().public_id}


def _waits(cast):
    entry = join_waitlist(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, priority=2, now=timezone.now()
    )
    return {"public_id": entry.public_id}


def _start(cast):
    return {"start": _soon(cast, 13).isoformat()}


def _booking(cast):
    return {
        "client": str(cast.ada.public_id), "clinician": str(cast.mina.public_id), "visit_type": "follow-up", **_start(cast)
    }


def _pressed(cast):
    return {"opening": f"{cast.mina.public_id} {_soon(cast, 13).isoformat()}"}


DESK_PAGE = (302, 404, 404, 200, 404, 404, 200, 302)
DESK_API = (401, 404, 404, 200, 404, 404, 200, 401)
DESK_DONE = (302, 404, 404, 302, 404, 404, 302, 302)


def _away(cast):
    _visit(cast)
    day = _soon(cast).date()
    return plan_away(
        by=cast.desk.user, site=cast.site, clinician=cast.mina, first_day=day, last_day=day, anyone=True, now=timezone.now()
    )


def _proposal(cast):
    return {"public_id": _away(cast).public_id}


def _proposed(cast):
    return {"public_id": _away(cast).moves.get().public_id}


def _days(cast):
    day = _soon(cast).date().isoformat()
    return {"first_day": day, "last_day": day, "clinician": "everybody", "anyone": "on"}


def _balance(cast):
    VisitType.objects.filter(pk=cast.first.pk).update(places=6)
    return VisitType.objects.get(pk=cast.first.pk)


def _group_body(cast):
    start = _soon(cast, 13)
    return {
        "visit_type": _balance(cast).code, "clinician": str(cast.mina.public_id), "day": start.date().isoformat(),
        "time": "13:00", "weeks": "1",
    }


def _group(cast):
    group, = open_group(
        by=cast.desk.user, site=cast.site, visit_type=_balance(cast), clinician=cast.mina, start=_soon(cast, 13),
        now=timezone.now(),
    )
    return {"public_id": group.public_id}


def _joined(cast):
    made = _group(cast)
    book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=_balance(cast), clinician=cast.mina, start=_soon(cast, 13),
        now=timezone.now(),
    )
    return made


def _secret(cast):
    _, secret = make_feed(by=cast.ada.user, kind="client", now=timezone.now())
    return {"secret": secret}


def _own_calendar(cast):
    feed, _ = make_feed(by=cast.mina.user, kind="clinician", now=timezone.now())
    return {"public_id": feed.public_id}


ROWS = [
    # the address itself is the proof, whoever opens it; a wrong one is nothing to anybody
    Row("GET", "booking:feed", (200, 200, 200, 200, 200, 200, 200, 200), _secret),
    Row("GET", "booking:feed", (404, 404, 404, 404, 404, 404, 404, 404), lambda cast: {"secret": "x"}),
    Row("GET", "booking:calendars", STAFF_PAGE),
    Row("POST", "booking:calendars", STAFF_PAGE, body=lambda cast: {"of": str(cast.room.pk)}),
    Row("POST", "booking:end-calendar", (302, 404, 404, 404, 302, 404, 404, 302), _own_calendar),
    Row("GET", "booking:away", DESK_PAGE),
    Row("POST", "booking:away", DESK_DONE, body=_days),
    Row("GET", "booking:proposal", DESK_PAGE, _proposal),
    Row("POST", "booking:proposal", DESK_DONE, _proposal, body=lambda cast: {"do": "withdraw"}),
    Row("GET", "booking:proposed_move", DESK_PAGE, _proposed),
    Row("POST", "booking:proposed_move", DESK_DONE, _proposed, body=lambda cast: {"leave": "yes"}),
    Row("GET", "booking:notice", (302, 404, 404, 404, 404, 404, 200, 302)),
    Row("POST", "booking:notice", (302, 404, 404, 404, 404, 404, 302, 302), body=lambda cast: {"hours": "24"}),
    Row("GET", "booking:groups", STAFF_PAGE),
    Row("POST", "booking:groups", (302, 404, 404, 302, 302, 400, 302, 302), body=_group_body),   # Theo plans for himself only
    Row("GET", "booking:group", OWN_PAGE, _joined),
    Row("POST", "booking:group", OWN_DONE, _group, body=lambda cast: {"client": str(cast.ada.public_id)}),
    Row("GET", "booking:day", STAFF_PAGE),
    Row("GET", "booking:new", STAFF_PAGE),
    # whom a person may not see, they do not find
    Row("POST", "booking:new", STAFF_PAGE, body=lambda cast: {"text": "quill"}),
    Row("GET", "booking:new", OWN_PAGE, query=lambda cast: {"client": str(cast.ada.public_id)}),
    Row("POST", "booking:series", OWN_DONE, body=lambda cast: {
        "client": str(cast.ada.public_id), "clinician": str(cast.mina.public_id), "visit_type": "follow-up", "choice": "all",
        "at": "13:00", "days": [_soon(cast).date().isoformat()],
    }),
    Row("GET", "booking:closing", (302, 404, 404, 200, 404, 404, 200, 302)),
    Row(
        "POST", "booking:closing", (302, 404, 404, 302, 404, 404, 302, 302),
        body=lambda cast: {"do": "close", "name": "Stocktaking", "day": _soon(cast).date().isoformat()},
    ),
    Row("POST", "booking:remove-closing", (302, 404, 404, 302, 404, 404, 302, 302), _closed),
    Row("GET", "booking:waitlist", STAFF_PAGE),
    Row("GET", "booking:join-waitlist", OWN_PAGE, lambda cast: {"public_id": cast.ada.public_id}),
    Row(
        "POST", "booking:join-waitlist", OWN_DONE, lambda cast: {"public_id": cast.ada.public_id},
        body=lambda cast: {"visit_type": "follow-up", "priority": "2"},
    ),
    Row("POST", "booking:leave-waitlist", OWN_DONE, _waits),
    Row("GET", "booking:offer", OWN_PAGE, _freed),
    Row("POST", "booking:offer", OWN_DONE, _freed, body=lambda cast: {"stop": "1"}),
    Row("POST", "booking:undo", (302, 404, 404, 404, 302, 404, 404, 302), _change),
    Row("GET", "booking:visit", OWN_PAGE, _visit),
    Row("POST", "booking:visit", OWN_DONE, _visit, body=lambda cast: {"reason": "client"}),
    Row("GET", "booking:move", OWN_PAGE, _visit),
    Row("POST", "booking:move", OWN_DONE, _visit, body=_pressed),
    Row("GET", "api:proposed-moves", DESK_API),
    Row("POST", "api:proposed-move-ask", DESK_API, _proposed),
    Row("POST", "api:proposed-move-confirm", DESK_API, _proposed),
    Row("GET", "api:openings", STAFF_API, query=lambda cast: {"visit_type": "follow-up"}),
    Row("GET", "api:appointments", STAFF_API),
    Row("POST", "api:appointments", OWN_MADE, body=_booking),
    Row("GET", "api:appointment", OWN_API, _visit),
    Row("POST", "api:appointment-move", OWN_API, _visit, body=_start),
    Row("POST", "api:appointment-cancel", OWN_API, _visit, body=lambda cast: {"reason": "client"}),
    Row("POST", "api:appointment-mark", OWN_API, _visit, body=lambda cast: {"status": "entered-in-error"}),
]
