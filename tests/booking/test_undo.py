"""What was done at the desk can be taken back for a minute; Monday 2 March 2026, nine o'clock in London."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import IntegrityError, transaction

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.actions.undo_change import undo_change
from clinic.booking.messages import still_cancelled
from clinic.booking.models import Change, Claim
from clinic.people.models import AuditEvent
from clinic.people.refusal import Refusal
from clinic.reminders.models import Message

TEN = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


@pytest.fixture
def visit(cast, now):
    return book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now
    )


@pytest.fixture
def undo(cast, now):
    def undone(after=30):
        return undo_change(by=cast.desk.user, change=Change.objects.first(), now=now + timedelta(seconds=after))

    return undone


def cells(visit):
    return sorted(visit.claims.values_list("resource", "resource_id", "cell"))


def mark(status):
    return lambda by, appointment, now: mark_visit(by=by, appointment=appointment, status=status, now=now)


STEPS = {
    "arrived": mark("arrived"),
    "checked-in": mark("checked-in"),
    "fulfilled": mark("fulfilled"),
    "entered-in-error": mark("entered-in-error"),
    "cancelled": lambda by, appointment, now: cancel_visit(by=by, appointment=appointment, reason="client", now=now),
}


@pytest.mark.parametrize("status", STEPS)
def test_each_step_is_taken_back_whole(cast, visit, undo, now, status):
    before = cells(visit)
    STEPS[status](cast.desk.user, visit, now)
    assert undo().status == "booked"
    visit.refresh_from_db()
    assert (visit.status, visit.cancel_reason, cells(visit)) == ("booked", "", before)
    assert AuditEvent.objects.filter(verb="undo_change", record=f"appointment:{visit.public_id}").count() == 1
    assert undo(40).status == "booked", "a second press changes nothing"
    assert AuditEvent.objects.filter(verb="undo_change").count() == 1


def test_a_no_show_is_taken_back_and_has_its_hour_again(cast, visit, undo, now):
    before, later = cells(visit), now + timedelta(hours=1, minutes=5)
    mark_visit(by=cast.desk.user, appointment=visit, status="noshow", now=later)
    assert cells(visit) == []
    undo(3600 + 330)
    assert cells(visit) == before


def test_a_move_is_taken_back_to_its_time_clinician_and_room(cast, visit, undo, now):
    before = cells(visit)
    to = {"start": TEN + timedelta(hours=2), "clinician": cast.theo, "room": cast.hall}
    move_visit(by=cast.desk.user, appointment=visit, now=now, **to)
    undone = undo()
    assert (undone.starts, undone.clinician, undone.room) == (TEN, cast.mina, cast.room)
    assert cells(visit) == before
    assert undone.version == 3, "a calendar sees a change, never an older version"


def test_when_the_hour_has_gone_that_is_said_with_the_next_openings(cast, visit, undo, now):
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now)
    claims = Claim.objects.count()
    with pytest.raises(Refusal) as caught:
        undo()
    assert caught.value.sentence == (
        "It cannot be taken back: the hour has gone meanwhile. Mina already has a visit at that time."
    )
    assert len(caught.value.numbers["openings"]) == 3
    visit.refresh_from_db()
    assert (visit.status, Claim.objects.count(), Change.objects.get().undone_at) == ("cancelled", claims, None)


def test_another_room_will_do(cast, visit, undo, now):
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.theo, start=TEN, now=now)
    assert undo().room == cast.hall


def test_it_can_be_taken_back_for_a_minute(cast, visit, undo, now):
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    with pytest.raises(Refusal, match="more than a minute ago"):
        undo(61)
    assert undo(60).status == "booked"


def test_only_the_last_change_can_be_taken_back(cast, visit, now):
    mark_visit(by=cast.desk.user, appointment=visit, status="arrived", now=now)
    mark_visit(by=cast.desk.user, appointment=visit, status="checked-in", now=now)
    first = Change.objects.last()
    with pytest.raises(Refusal, match="changed again"):
        undo_change(by=cast.desk.user, change=first, now=now)


def test_a_client_hears_nothing_of_a_cancellation_taken_back_in_time(cast, visit, undo, now):
    Message.objects.update(state="sent")
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    undo()
    waiting = Message.objects.get(state="pending")
    assert (waiting.kind, still_cancelled(waiting, now)) == ("visit_cancelled", "booked_again")


@pytest.mark.parametrize(("step", "kinds"), [
    ("cancel", ["visit_booked", "visit_cancelled", "visit_booked"]), ("move", ["visit_booked", "visit_moved", "visit_moved"]),
])
def test_a_client_who_was_told_is_told_what_holds(cast, visit, undo, now, step, kinds):
    Message.objects.update(state="sent")
    if step == "cancel":
        cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    else:
        move_visit(by=cast.desk.user, appointment=visit, start=TEN + timedelta(hours=3), now=now)
    Message.objects.update(state="sent")
    undo(0)
    assert [row.kind for row in Message.objects.order_by("pk")] == kinds
    assert Message.objects.latest("pk").values["time"] == "10:00"


def test_it_is_taken_back_on_the_page_of_the_day_by_whoever_did_it(cast, visit, browse, now):
    with time_machine.travel(now, tick=False):
        desk, lead = browse(cast.desk.user), browse(cast.lead.user)
        shown = desk.post(f"/booking/{visit.public_id}/", {"reason": "client"}, follow=True).content.decode()
        assert "Ada Quill is cancelled, and was booked." in shown
        address = re.search(r'action="(/booking/undo/[^"]+)"', shown)[1]
        assert "/booking/undo/" not in lead.get("/booking/").content.decode()
        assert lead.post(address).status_code == 404
        answer = desk.post(address, follow=True).content.decode()
    assert "Taken back. Ada Quill: booked." in answer
    assert "/booking/undo/" not in answer


def test_too_late_is_said_on_the_page(cast, visit, browse, now):
    with time_machine.travel(now, tick=False) as clock:
        desk = browse(cast.desk.user)
        desk.post(f"/booking/{visit.public_id}/", {"status": "arrived"})
        clock.shift(timedelta(minutes=2))
        address = f"/booking/undo/{Change.objects.get().public_id}/"
        assert "more than a minute ago" in desk.post(address, follow=True).content.decode()


def test_the_database_refuses_a_change_undone_before_it_was_made(cast, visit, now):
    mark_visit(by=cast.desk.user, appointment=visit, status="arrived", now=now)
    with pytest.raises(IntegrityError), transaction.atomic():
        Change.objects.update(undone_at=now - timedelta(seconds=1))
    assert Change.objects.update(undone_at=now) == 1
