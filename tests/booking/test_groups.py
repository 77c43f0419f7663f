"""Group visits: several clients share a clinician and a room, and nobody else gets either."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from icalendar import Calendar

from clinic.booking import groups, queries
from clinic.booking.actions.book_series import book_series
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.call_off_group import call_off_group
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.actions.open_group import open_group
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.actions.undo_change import undo_change
from clinic.booking.feeds import calendar
from clinic.booking.models import Appointment, CalendarFeed, Claim, GroupPlace, GroupVisit, VisitType
from clinic.booking.waiting import is_free_again
from clinic.people.models import AuditEvent
from clinic.people.refusal import Refusal
from clinic.reminders.models import Message
from tests.booking.conftest import PLACES, TEN
from tests.conftest import NOW


def refused(code, work):
    before = Claim.objects.count(), Appointment.objects.count(), GroupVisit.objects.count(), AuditEvent.objects.count()
    with pytest.raises(Refusal) as caught:
        work()
    after = Claim.objects.count(), Appointment.objects.count(), GroupVisit.objects.count(), AuditEvent.objects.count()
    assert (caught.value.code, after) == (code, before)
    return caught.value


def test_several_clients_share_one_clinician_and_room(cast, plan, join, people):
    plan()
    visits = [join(each) for each in people(PLACES)]
    assert {(visit.clinician, visit.room, visit.starts) for visit in visits} == {(cast.mina, cast.hall, TEN)}
    assert {visit.place.number for visit in visits} == {1, 2, 3}
    held = {code: Claim.objects.filter(resource=code).count() for code in ("clinician", "room", "client")}
    assert held == {"clinician": 12, "room": 12, "client": 9 * PLACES}, "the hour with preparation and clean-up, held once"
    assert Message.objects.filter(kind="visit_booked").count() == PLACES


def test_a_full_group_refuses_and_names_the_next_ones(cast, plan, join, people):
    plan(weeks=2)
    first, *others, last = people(PLACES + 1)
    gone = join(first)
    for each in others:
        join(each)
    refusal = refused("slot_taken", lambda: join(last))
    assert (refusal.status, refusal.sentence, refusal.numbers["taken"]) == (409, "This group is full.", "place")
    week_on = (TEN + timedelta(weeks=1)).isoformat()
    assert [(each["starts"], each["places_left"]) for each in refusal.numbers["openings"]] == [(week_on, PLACES)]
    cancel_visit(by=cast.desk.user, appointment=gone, reason="client", now=NOW)
    assert join(last).place.number == 1, "the place given back"


def test_where_no_group_meets_nobody_is_booked(cast, plan, join):
    plan()
    refusal = refused("slot_taken", lambda: join(cast.ada, TEN + timedelta(hours=2)))
    assert refusal.numbers["taken"] == "group"
    assert [each["starts"] for each in refusal.numbers["openings"]] == [TEN.isoformat()]
    refused("slot_taken", lambda: join(cast.ada, clinician=cast.theo))
    refused("invalid", lambda: join(cast.ada, room=cast.room))


@pytest.mark.parametrize("same", ["clinician", "room"])
def test_nobody_else_gets_the_clinician_or_the_room_even_while_the_group_is_empty(cast, plan, now, same):
    plan()
    who = cast.mina if same == "clinician" else cast.theo
    where = cast.hall if same == "room" else None

    def alone(start):
        return book_visit(
            by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=who, room=where, start=start, now=now
        )

    assert refused("slot_taken", lambda: alone(TEN + timedelta(minutes=50))).numbers["taken"] == same
    assert alone(TEN + timedelta(minutes=55)).starts == TEN + timedelta(minutes=55), "after the clean-up it is free"


def test_a_group_is_not_planned_where_somebody_is_booked(cast, plan, now):
    book_visit(by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now)
    assert refused("slot_taken", lambda: plan(TEN + timedelta(minutes=30))).numbers["taken"] == "clinician"
    later = book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=TEN + timedelta(weeks=2),
        now=now,
    )
    refused("slot_taken", lambda: plan(later.starts, weeks=1))
    refused("slot_taken", lambda: plan(TEN + timedelta(weeks=1), weeks=3))   # all of them, or none
    assert len(plan(TEN + timedelta(hours=2), weeks=3)) == 3


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"start": TEN.replace(hour=20)}, "outside_hours"), ({"start": TEN.replace(minute=1)}, "off_grid"),
        ({"start": NOW - timedelta(days=1)}, "in_the_past"), ({"weeks": 0}, "invalid"), ({"weeks": 27}, "invalid"),
    ],
)
def test_a_group_that_cannot_be_is_refused(plan, change, code):
    refused(code, lambda: plan(**change))


def test_a_kind_of_visit_for_one_makes_no_group(cast, now):
    refused("invalid", lambda: open_group(
        by=cast.desk.user, site=cast.site, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now
    ))


def test_weeks_keep_the_local_time_across_a_clock_change(plan):
    """The United Kingdom puts its clocks forward on 29 March 2026."""
    made = plan(datetime(2026, 3, 24, 10, tzinfo=UTC), weeks=2)
    assert [each.starts for each in made] == [datetime(2026, 3, 24, 10, tzinfo=UTC), datetime(2026, 3, 31, 9, tzinfo=UTC)]


def test_a_client_is_in_one_place_at_a_time(cast, plan, join, now):
    plan()
    join(cast.ada)
    refused("slot_taken", lambda: join(cast.ada))
    refusal = refused("slot_taken", lambda: book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.theo, start=TEN, now=now
    ))
    assert refusal.numbers["taken"] == "client"


def raw(sql, *values):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)


def test_the_database_refuses_a_place_twice_a_place_too_many_and_a_shared_clinician(cast, plan, join, now):
    plan()
    ada, bo = join(cast.ada), join(cast.bo)
    give = "UPDATE booking_appointment SET place_id = %s WHERE id = %s"
    with pytest.raises(IntegrityError):
        raw(give, ada.place_id, bo.pk)
    add = "INSERT INTO booking_groupplace (group_id, number) VALUES (%s, %s)"
    for number in (1, 0, 41):
        with pytest.raises(IntegrityError):
            raw(add, ada.place.group_id, number)
    claim = Claim.objects.filter(group=ada.place.group, resource="clinician").first()
    put = "INSERT INTO booking_claim (appointment_id, group_id, resource, resource_id, cell) VALUES (%s, %s, %s, %s, %s)"
    for owner in ((ada.pk, None), (None, None), (ada.pk, ada.place.group_id)):
        cell = claim.cell if owner == (ada.pk, None) else claim.cell + 1000
        with pytest.raises(IntegrityError):
            raw(put, *owner, "clinician", claim.resource_id, cell)
    raw(put, ada.pk, None, "clinician", claim.resource_id, claim.cell + 1000)   # the accepted neighbour
    raw(give, GroupPlace.objects.get(group=ada.place.group, number=3).pk, bo.pk)


def test_moving_takes_a_place_in_another_group_and_frees_the_old_one(cast, plan, join, now):
    plan()
    theirs, = plan(TEN + timedelta(hours=3), cast.theo)
    visit = join(cast.ada)
    moved = move_visit(by=cast.desk.user, appointment=visit, start=theirs.starts, clinician=cast.theo, now=now)
    assert (moved.place.group, moved.clinician, moved.room) == (theirs, cast.theo, theirs.room)
    assert refused("slot_taken", lambda: move_visit(
        by=cast.desk.user, appointment=moved, start=TEN + timedelta(hours=5), now=now
    )).numbers["taken"] == "group"
    undo_change(by=cast.desk.user, change=moved.changes.get(), now=now)
    back = Appointment.objects.get(pk=visit.pk)
    assert (back.starts, back.clinician, back.place.group_id) == (TEN, cast.mina, visit.place.group_id)


def test_a_place_taken_meanwhile_is_not_given_back(cast, plan, join, people, now):
    plan()
    visit, *_ = [join(each) for each in people(PLACES)]
    gone = cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    assert is_free_again(gone, now)
    join(cast.ada)
    refusal = refused("slot_taken", lambda: undo_change(by=cast.desk.user, change=gone.changes.get(), now=now))
    assert "This group is full." in refusal.sentence
    refused("slot_taken", lambda: mark_visit(by=cast.desk.user, appointment=gone, status="booked", now=now))


def test_calling_a_group_off_cancels_its_visits_and_frees_the_hour(cast, plan, join, now):
    group, = plan()
    visit = join(cast.ada)
    assert call_off_group(by=cast.desk.user, group=group, reason="clinician", now=now) == 1
    assert call_off_group(by=cast.desk.user, group=group, reason="clinician", now=now) == 0
    gone = Appointment.objects.get(pk=visit.pk)
    assert (gone.status, gone.cancel_reason, Claim.objects.count()) == ("cancelled", "clinician", 0)
    assert Message.objects.filter(kind="visit_cancelled").count() == 1
    verbs = AuditEvent.objects.filter(record=f"group:{group.public_id}").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["open_group", "call_off_group"]
    refused("slot_taken", lambda: mark_visit(by=cast.desk.user, appointment=gone, status="booked", now=now))
    assert plan(), "the hour can be planned anew"


def test_a_group_that_somebody_came_to_is_not_called_off(cast, plan, join):
    group, = plan()
    mark_visit(by=cast.desk.user, appointment=join(cast.ada), status="arrived", now=TEN)
    refused("begun", lambda: call_off_group(by=cast.desk.user, group=group, reason="clinic", now=TEN))


def test_openings_are_groups_with_a_place_left_the_own_clinician_first(cast, plan, join, people, now):
    plan(weeks=2)
    plan(TEN + timedelta(hours=1), cast.theo)
    for each in people(PLACES):
        join(each)
    week = {"site": cast.site, "visit_type": VisitType.objects.get(code="balance"), "first_day": date(2026, 3, 2),
            "last_day": date(2026, 3, 15), "now": now, "client": cast.ada}
    found = queries.openings(**week)
    assert [(each.clinician, each.starts, each.left, each.places) for each in found] == [
        (cast.mina, TEN + timedelta(weeks=1), PLACES, PLACES), (cast.theo, TEN + timedelta(hours=1), PLACES, PLACES),
    ]
    assert [each.clinician for each in queries.openings(**week, clinician=cast.theo)] == [cast.theo]
    assert queries.openings(**week, hours=(time(8), time(9))) == []
    assert len(queries.openings(**week, weekdays=frozenset({1}))) == 2
    book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=TEN + timedelta(hours=1),
        now=now,
    )
    assert [each.clinician for each in queries.openings(**week)] == [cast.mina], "the client has a visit at Theo's time"


@pytest.mark.parametrize("weeks", [1, 5])
def test_openings_take_as_many_queries_for_five_groups_as_for_one(cast, plan, balance, now, weeks, django_assert_num_queries):
    plan(weeks=weeks)
    with django_assert_num_queries(8):
        found = queries.openings(
            site=cast.site, visit_type=balance, first_day=date(2026, 3, 2), last_day=date(2026, 4, 30), now=now,
            client=cast.ada,
        )
    assert len(found) == weeks


def test_a_group_takes_an_hour_from_the_openings_of_other_visits(cast, plan, now):
    day = {"site": cast.site, "visit_type": cast.follow_up, "first_day": TEN.date(), "last_day": TEN.date(), "now": now,
           "clinician": cast.mina, "limit": 100}
    before = {each.starts for each in queries.openings(**day)}
    plan()
    lost = before - {each.starts for each in queries.openings(**day)}
    assert {f"{start:%H:%M}" for start in lost} == {"09:30", "09:45", "10:00", "10:15", "10:30", "10:45"}


def test_a_series_joins_the_group_each_week(cast, plan, balance, now):
    plan(weeks=3)
    days = [TEN.date() + timedelta(weeks=week) for week in range(4)]
    _, left_out = book_series(
        by=cast.desk.user, client=cast.ada, visit_type=balance, clinician=cast.mina, days=days, at=time(10), only_good=True,
        now=now,
    )
    assert Appointment.objects.filter(place__isnull=False).count() == 3
    assert [(each["day"], each["sentence"]) for each in left_out] == [
        (days[3].isoformat(), "No group of that kind meets with Mina at that time."),
    ]


def test_visits_of_another_system_make_their_group(cast, balance, people, now):
    past = NOW - timedelta(days=7)

    def take(client, status="fulfilled"):
        return import_visit(
            by=cast.desk.user, client=client, visit_type=balance, clinician=cast.mina, start=past, now=now, status=status
        )

    *some, late = people(PLACES + 1)
    visits = [take(each) for each in some]
    assert GroupVisit.objects.get() == visits[0].place.group == visits[-1].place.group
    refused("slot_taken", lambda: take(late))
    assert take(late, "cancelled").place is None


def test_a_day_away_asks_the_desk_about_each_visit_of_a_group(cast, plan, join, now):
    plan()
    plan(TEN + timedelta(days=1), cast.theo)
    join(cast.ada)
    away = plan_away(
        by=cast.desk.user, site=cast.site, clinician=cast.mina, first_day=TEN.date(), last_day=TEN.date(), anyone=True,
        now=now,
    )
    move = away.moves.get()
    assert (move.state, move.why_not, move.starts) == ("no_place", "in_a_group", None)
    refused("outside_hours", lambda: join(cast.bo))


def feed_of(user, kind, room=None):
    feed = CalendarFeed(kind=kind, owner=user, room=room, created=NOW)
    return list(Calendar.from_ical(calendar(feed, NOW)).walk("VEVENT"))


def test_calendars_hold_a_group_once_and_a_client_their_own_visit(cast, plan, join, now):
    group, = plan()
    visit = join(cast.ada)
    join(cast.bo)
    own, = feed_of(cast.ada.user, "client")
    clinicians, = feed_of(cast.mina.user, "clinician")
    rooms, = feed_of(cast.desk.user, "room", cast.hall)
    assert (str(own["SUMMARY"]), str(clinicians["SUMMARY"]), str(rooms["SUMMARY"])) == ("Visit", "Visit", "Busy")
    assert str(visit.public_id) in str(own["UID"])
    assert str(group.public_id) in str(clinicians["UID"])
    assert (clinicians["DTSTART"].dt, rooms["DTSTART"].dt) == (TEN, TEN - timedelta(minutes=5))
    call_off_group(by=cast.desk.user, group=group, reason="clinic", now=now)
    gone, = feed_of(cast.mina.user, "clinician")
    assert (str(gone["STATUS"]), int(gone["SEQUENCE"]), gone["UID"]) == ("CANCELLED", 1, clinicians["UID"])


def test_a_clinician_sees_own_groups_only(cast, plan):
    mine, = plan()
    assert list(groups.groups_for(cast.mina.user)) == [mine]
    assert list(groups.groups_for(cast.theo.user)) == []
    assert list(groups.groups_for(cast.ada.user)) == []
