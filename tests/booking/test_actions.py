"""Booking, moving, cancelling and marking a visit: what is accepted stands beside what is refused."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.models import Absence, Appointment, Claim, Room
from clinic.booking.signals import appointment_changed
from clinic.people.models import AuditEvent
from clinic.people.refusal import Refusal
from clinic.reminders.models import Message

TEN = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)


@pytest.fixture
def book(cast, now):
    def booked(start=TEN, client=None, clinician=None, visit_type=None, **more):
        return book_visit(
            by=cast.desk.user, client=client or cast.ada, visit_type=visit_type or cast.follow_up,
            clinician=clinician or cast.mina, start=start, now=now, **more,
        )

    return booked


def refused(code, work, **numbers):
    before = Claim.objects.count(), Appointment.objects.count(), Message.objects.count(), AuditEvent.objects.count()
    with pytest.raises(Refusal) as caught:
        work()
    after = Claim.objects.count(), Appointment.objects.count(), Message.objects.count(), AuditEvent.objects.count()
    assert caught.value.code == code
    assert after == before, "nothing is left behind"
    assert {key: caught.value.numbers.get(key) for key in numbers} == numbers
    return caught.value


def test_a_visit_claims_its_clinician_room_and_client(cast, book, now):
    heard = []
    appointment_changed.connect(lambda sender, **told: heard.append(told["appointment"]), weak=False, dispatch_uid="t")
    try:
        visit = book()
    finally:
        appointment_changed.disconnect(dispatch_uid="t")
    assert (visit.starts, visit.ends, visit.busy_until) == (TEN, TEN + timedelta(minutes=30), TEN + timedelta(minutes=35))
    assert visit.room == cast.room, "the plainer room is taken, the hall stays free"
    counts = {code: Claim.objects.filter(resource=code).count() for code in ("clinician", "room", "client")}
    assert counts == {"clinician": 7, "room": 7, "client": 6}
    assert heard == [visit]
    assert AuditEvent.objects.get(verb="book_visit").record == f"appointment:{visit.public_id}"
    message = Message.objects.get()
    assert (message.kind, message.values["time"], message.values["day"]) == ("visit_booked", "10:00", "Tuesday 3 March")


def test_back_to_back_visits_are_fine_and_an_overlap_is_not(cast, book):
    book()
    after = TEN + timedelta(minutes=35)
    assert book(after, client=cast.bo).starts == after
    error = refused("slot_taken", lambda: book(TEN + timedelta(minutes=30), client=cast.bo), taken="clinician")
    assert error.status == 409
    assert error.sentence == "Mina already has a visit at that time."
    assert error.numbers["openings"][0]["starts"] == "2026-03-03T11:10:00+00:00"


def test_a_taken_room_is_named_and_leaves_no_claim(cast, book):
    book(visit_type=cast.first)
    Room.objects.filter(name="Hall").update(features=["open_floor"])
    error = refused("slot_taken", lambda: book(client=cast.bo, clinician=cast.theo, visit_type=cast.first), taken="room")
    assert "Room 1" in error.sentence
    asked_for = refused("slot_taken", lambda: book(client=cast.bo, clinician=cast.theo, room=cast.room), taken="room")
    assert "Room 1" in asked_for.sentence
    assert book(client=cast.bo, clinician=cast.theo).room == cast.hall


def test_a_client_is_in_one_place_at_a_time(cast, book):
    book()
    refused("slot_taken", lambda: book(clinician=cast.theo), taken="client")
    # the clean-up holds the clinician, not the client
    assert book(TEN + timedelta(minutes=30), clinician=cast.theo)


@pytest.mark.parametrize(
    ("start", "code"),
    [
        (datetime(2026, 3, 3, 8, 30, tzinfo=UTC), "outside_hours"),
        (datetime(2026, 3, 3, 16, 30, tzinfo=UTC), "outside_hours"),   # 17:05 with clean-up
        (datetime(2026, 3, 7, 10, 0, tzinfo=UTC), "outside_hours"),    # a Saturday
        (datetime(2026, 3, 2, 8, 55, tzinfo=UTC), "in_the_past"),
        (datetime(2026, 3, 3, 10, 2, tzinfo=UTC), "off_grid"),
        (datetime(2026, 3, 3, 10, 0, 30, tzinfo=UTC), "off_grid"),
        (datetime(2029, 3, 3, 10, 0, tzinfo=UTC), "too_far"),
        (datetime(2026, 3, 3, 10, 0), "invalid"),   # in no zone
    ],
)
def test_a_start_no_visit_can_have_is_refused(book, start, code):
    assert refused(code, lambda: book(start)).status == 400


def test_the_last_start_inside_hours_and_the_present_moment_are_accepted(cast, book, now):
    assert book(datetime(2026, 3, 3, 16, 25, tzinfo=UTC))
    assert book(now, client=cast.bo)


def test_an_absence_closes_the_hours(cast, book):
    Absence.objects.create(clinician=cast.mina, starts=TEN + timedelta(minutes=20), ends=TEN + timedelta(hours=2))
    refused("outside_hours", book)
    assert book(TEN - timedelta(minutes=15))


def test_people_and_words_are_checked(cast, book):
    wrong = refused("invalid", lambda: book(clinician=cast.desk, episode=cast.bo_neck, note="x" * 201))
    assert set(wrong.fields) == {"clinician", "episode"}
    assert set(refused("invalid", lambda: book(note="x" * 201)).fields) == {"note"}
    window = {"due_earliest": date(2026, 3, 5), "due_latest": date(2026, 3, 4)}
    assert set(refused("invalid", lambda: book(**window)).fields) == {"due_latest"}
    cast.ada.archived = TEN
    refused("client_archived", book)


def test_moving_gives_the_old_time_back(cast, book, now):
    visit = book()
    moved = move_visit(by=cast.desk.user, appointment=visit, start=TEN + timedelta(minutes=15), now=now)
    assert (moved.starts, moved.version) == (TEN + timedelta(minutes=15), 2)
    assert Claim.objects.filter(appointment=visit).count() == 20
    assert set(Message.objects.values_list("kind", flat=True)) == {"visit_booked", "visit_moved"}
    assert book(TEN - timedelta(minutes=20), client=cast.bo)


def test_moving_onto_another_visit_is_refused_and_the_old_time_kept(cast, book, now):
    visit, other = book(), book(TEN + timedelta(hours=2), client=cast.bo)
    error = refused(
        "slot_taken", lambda: move_visit(by=cast.desk.user, appointment=visit, start=other.starts, now=now),
        taken="clinician",
    )
    assert error.numbers["openings"]
    visit.refresh_from_db()
    assert (visit.starts, visit.version) == (TEN, 1)
    free = move_visit(by=cast.desk.user, appointment=visit, start=other.starts, now=now, clinician=cast.theo)
    assert (free.clinician, free.room) == (cast.theo, cast.hall)


def test_moving_to_the_same_place_changes_nothing(cast, book, now):
    visit = book()
    assert move_visit(by=cast.desk.user, appointment=visit, start=TEN, now=now).version == 1
    assert Message.objects.count() == 1


def test_a_visit_that_has_begun_is_not_moved(cast, book, now):
    visit = book(now)
    mark_visit(by=cast.desk.user, appointment=visit, status="arrived", now=now)
    refused("wrong_status", lambda: move_visit(by=cast.desk.user, appointment=visit, start=TEN, now=now))


def test_cancelling_frees_the_time_and_can_be_taken_back(cast, book, now):
    visit = book()
    refused("invalid", lambda: cancel_visit(by=cast.desk.user, appointment=visit, reason="because", now=now))
    gone = cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    assert (gone.status, gone.cancel_reason, gone.claims.count()) == ("cancelled", "client", 0)
    assert cancel_visit(by=cast.desk.user, appointment=visit, reason="other", now=now).cancel_reason == "client"
    back = mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=now)
    assert (back.status, back.cancel_reason, back.claims.count(), back.version) == ("booked", "", 20, 3)


@pytest.mark.parametrize("way_out", ["cancelled", "noshow"])
def test_bringing_a_visit_back_meets_the_same_wall(cast, book, now, way_out):
    visit = book(now)
    if way_out == "cancelled":
        cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    else:
        mark_visit(by=cast.desk.user, appointment=visit, status="noshow", now=now)
    assert not visit.claims.exists()
    other = book(now, client=cast.bo)
    error = refused(
        "slot_taken", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=now), taken="clinician"
    )
    assert error.numbers["openings"]
    visit.refresh_from_db()
    assert visit.status == way_out
    cancel_visit(by=cast.desk.user, appointment=other, reason="client", now=now)
    assert mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=now).status == "booked"


def test_a_visit_is_marked_step_by_step_and_back(cast, book, now):
    visit = book(now)
    for status in ("arrived", "checked-in", "fulfilled", "checked-in", "arrived", "booked", "noshow", "booked"):
        visit = mark_visit(by=cast.desk.user, appointment=visit, status=status, now=now)
        assert visit.status == status
    refused("wrong_step", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="waitlist", now=now))
    refused("invalid", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="cancelled", now=now))
    refused("invalid", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="gone", now=now))
    error = mark_visit(by=cast.desk.user, appointment=visit, status="entered-in-error", now=now)
    assert not error.claims.exists()
    refused("wrong_step", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=now))


def test_nobody_arrives_on_another_day(cast, book, now):
    visit = book()
    refused("too_early", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="arrived", now=now))
    early = TEN - timedelta(hours=1)
    refused("too_early", lambda: mark_visit(by=cast.desk.user, appointment=visit, status="noshow", now=early))
    assert mark_visit(by=cast.desk.user, appointment=visit, status="arrived", now=early).status == "arrived"


def test_an_imported_visit_may_be_past_and_outside_hours_but_holds_its_time(cast, now):
    night = datetime(2026, 2, 1, 23, 30, tzinfo=UTC)
    values = {"by": cast.desk.user, "visit_type": cast.first, "clinician": cast.mina, "now": now}
    visit = import_visit(client=cast.ada, start=night, status="fulfilled", external_ref="A-1", **values)
    assert Claim.objects.filter(resource="client").count() == 12
    refused("number_taken", lambda: import_visit(
        client=cast.ada, start=night + timedelta(hours=9), status="fulfilled", external_ref="A-1", **values))
    refused("slot_taken", lambda: import_visit(client=cast.bo, start=night, status="fulfilled", **values), taken="clinician")
    missed = import_visit(client=cast.bo, start=night, status="noshow", minutes=20, **values)
    assert (missed.claims.count(), missed.ends - missed.starts) == (0, timedelta(minutes=20))
    refused("invalid", lambda: import_visit(client=cast.bo, start=night, status="done", **values))
    assert not Message.objects.exists()
    assert visit.booked_at == night
