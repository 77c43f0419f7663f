"""A clinician is away: each visit of those days gets a proposal, and nothing moves before somebody confirms."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from clinic.booking import queries
from clinic.booking.actions.ask_move import ask_move
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.confirm_move import confirm_move
from clinic.booking.actions.decline_move import decline_move
from clinic.booking.actions.edit_move import edit_move
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.actions.withdraw_away import withdraw_away
from clinic.booking.models import Absence, Appointment
from clinic.people.models import AuditEvent, Client
from clinic.people.refusal import Refusal
from clinic.reminders.kinds import kind
from clinic.reminders.models import Message

DAY = date(2026, 3, 4)


def at(hour, minute=0, day=4):
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


@pytest.fixture
def book(cast, now):
    def booked(client, start, clinician=None, kind=None):
        return book_visit(
            by=cast.desk.user, client=client, visit_type=kind or cast.follow_up, clinician=clinician or cast.mina,
            start=start, now=now,
        )

    return booked


@pytest.fixture
def away(cast, now):
    def planned(clinician=cast.mina, first=DAY, last=DAY, anyone=True):
        return plan_away(
            by=cast.desk.user, site=cast.site, clinician=clinician, first_day=first, last_day=last, anyone=anyone, now=now
        )

    return planned


def test_a_visit_goes_to_its_own_clinician_and_time_a_day_earlier(cast, book, away, now):
    visit, kept = book(cast.ada, at(10)), book(cast.bo, at(11), cast.theo)
    before = Appointment.objects.values().get(pk=kept.pk)
    move = away().moves.get()
    # another clinician costs 30 points, a day 10: the day before with Mina is nearer
    assert (move.appointment, move.clinician, move.starts) == (visit, cast.mina, at(10, day=3))
    assert move.reasons == [["earlier", 1], ["same_clinician", 0], ["same_time", 0]]
    visit.refresh_from_db()
    assert visit.starts == at(10)
    done = confirm_move(by=cast.desk.user, move=move, now=now)
    visit.refresh_from_db()
    assert (done.state, visit.starts, visit.clinician, visit.version) == ("confirmed", at(10, day=3), cast.mina, 2)
    assert confirm_move(by=cast.desk.user, move=move, now=now).state == "confirmed"
    assert Appointment.objects.values().get(pk=kept.pk) == before
    assert Message.objects.filter(kind="visit_moved").count() == 1
    assert list(AuditEvent.objects.order_by("pk").values_list("verb", flat=True))[-3:] == [
        "plan_away", "move_visit", "confirm_move"
    ]


def test_the_days_are_closed_for_bookings_until_it_is_withdrawn(cast, book, away, now):
    book(cast.ada, at(10))
    planned = away()
    with pytest.raises(Refusal) as refused:
        book(cast.bo, at(12))
    assert refused.value.code == "outside_hours"
    withdraw_away(by=cast.desk.user, away=planned, now=now)
    assert (Absence.objects.count(), planned.moves.get().state) == (0, "left")
    book(cast.bo, at(12))
    with pytest.raises(Refusal) as late:
        confirm_move(by=cast.desk.user, move=planned.moves.get(), now=now)
    assert late.value.code == "changed_meanwhile"


def test_a_closed_site_sends_everybody_to_other_days(cast, book, away):
    visits = [book(cast.ada, at(9)), book(cast.bo, at(9), cast.theo)]
    moves = {move.appointment_id: move for move in away(clinician=None, last=DAY + timedelta(days=1)).moves.all()}
    assert {moves[visit.pk].starts for visit in visits} == {at(9, day=3)}
    assert [moves[visit.pk].clinician for visit in visits] == [cast.mina, cast.theo]


def test_without_others_and_without_hours_it_says_why(cast, book, away):
    book(cast.ada, at(10))
    cast.mina.hours.update(rule="FREQ=WEEKLY;BYDAY=WE;UNTIL=20260304T235959Z", first_day=DAY)
    move = away(anyone=False).moves.get()
    assert (move.state, move.why_not, move.starts) == ("no_place", "nobody_in", None)
    with pytest.raises(Refusal) as refused:
        confirm_move(by=cast.desk.user, move=move, now=at(8, day=2))
    assert refused.value.code == "no_place"


def test_an_hour_that_has_gone_is_refused_with_the_next_openings(cast, book, away, now):
    visit = book(cast.ada, at(10))
    move = away().moves.get()
    book(cast.bo, move.starts)
    with pytest.raises(Refusal) as refused:
        confirm_move(by=cast.desk.user, move=move, now=now)
    assert (refused.value.status, refused.value.code, len(refused.value.numbers["openings"])) == (409, "slot_taken", 3)
    visit.refresh_from_db()
    move.refresh_from_db()
    assert (visit.starts, move.state) == (at(10), "proposed")
    assert Message.objects.filter(kind="visit_moved").count() == 0


def test_when_only_its_room_has_gone_it_takes_another(cast, book, away, now):
    visit = book(cast.ada, at(10))
    move = away().moves.get()
    other = book(cast.bo, move.starts, cast.theo)
    assert other.room == move.room
    confirm_move(by=cast.desk.user, move=move, now=now)
    visit.refresh_from_db()
    assert (visit.starts, visit.room) == (move.starts, cast.hall)


def test_the_client_is_asked_and_answers(cast, book, away, now):
    book(cast.ada, at(10))
    move = away().moves.get()
    for _ in range(2):
        move = ask_move(by=cast.desk.user, move=move, now=now)
    message = Message.objects.get(kind="visit_move_asked")
    assert message.values["time"] == "10:00"
    assert "Ada" in message.values.values()
    wanted = kind("visit_move_asked").still_wanted
    assert wanted(message, now) is None
    decline_move(by=cast.ada.user, move=move, now=now)
    assert wanted(message, now) == "answered"
    # another time is asked about anew
    edited = edit_move(by=cast.desk.user, move=move, clinician=cast.theo, start=at(15, day=5), now=now)
    assert (edited.state, edited.reasons) == ("proposed", [["chosen_by_desk", 0]])
    ask_move(by=cast.desk.user, move=edited, now=now)
    assert Message.objects.filter(kind="visit_move_asked").count() == 2


def test_the_desk_cannot_propose_one_time_twice_nor_a_taken_one(cast, book, away, now):
    book(cast.ada, at(10))
    book(cast.bo, at(11))
    first, second = away().moves.all()
    with pytest.raises(Refusal) as twice:
        edit_move(by=cast.desk.user, move=second, clinician=first.clinician, start=first.starts, now=now)
    assert (twice.value.code, twice.value.status) == ("also_proposed", 409)
    book(Client.objects.create(site=cast.site, given_name="Cy", zone="Europe/London"), at(9, day=6), cast.theo)
    with pytest.raises(Refusal) as taken:
        edit_move(by=cast.desk.user, move=second, clinician=cast.theo, start=at(9, day=6), now=now)
    assert (taken.value.code, len(taken.value.numbers["openings"])) == ("slot_taken", 3)
    assert edit_move(by=cast.desk.user, move=second, now=now).state == "left"


def test_a_visit_changed_meanwhile_is_not_moved(cast, book, away, now):
    visit = book(cast.ada, at(10))
    move = away().moves.get()
    Appointment.objects.filter(pk=visit.pk).update(version=5)
    with pytest.raises(Refusal) as refused:
        confirm_move(by=cast.desk.user, move=move, now=now)
    assert refused.value.code == "changed_meanwhile"


@pytest.mark.parametrize(
    ("days", "field"),
    [((-1, 0), "first_day"), ((3, 2), "last_day"), ((1, 40), "last_day"), ((400, 401), "first_day")],
)
def test_days_that_cannot_be_are_refused_at_the_field(cast, away, now, days, field):
    with pytest.raises(Refusal) as refused:
        away(first=now.date() + timedelta(days=days[0]), last=now.date() + timedelta(days=days[1]))
    assert list(refused.value.fields) == [field]


@pytest.fixture
def frozen(time_machine, now):
    time_machine.move_to(now, tick=False)


def test_the_page_shows_confirms_in_part_and_names_what_has_gone(cast, book, away, browse, now, frozen):
    gone, fine = book(cast.ada, at(10)), book(cast.bo, at(11))
    planned = away()
    moves = {move.appointment_id: move for move in planned.moves.all()}
    book(Client.objects.create(site=cast.site, given_name="Cy", zone="Europe/London"), moves[gone.pk].starts)
    desk, address = browse(cast.desk.user), f"/booking/away/{planned.public_id}/"
    assert "1 day earlier, the same clinician, the same time of day" in desk.get(address).content.decode()
    answer = desk.post(address, {"do": "confirm", "move": [str(move.public_id) for move in moves.values()]})
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "1 visit moved" in text
    assert "already has a visit at that time" in text
    assert "Still free:" in text
    fine.refresh_from_db()
    gone.refresh_from_db()
    assert (fine.starts, gone.starts) == (moves[fine.pk].starts, at(10))
    assert desk.post(address, {"do": "confirm"}).status_code == 400
    row = f"/booking/away/moves/{moves[gone.pk].public_id}/"
    assert desk.post(row, {"opening": f"{cast.theo.public_id} {at(14, day=5).isoformat()}"}).status_code == 302
    assert desk.post(address, {"do": "ask", "move": str(moves[gone.pk].public_id)}).status_code == 302
    wrong = desk.post("/booking/away/", {"clinician": "everybody", "first_day": "2026-03-06", "last_day": "2026-03-05"})
    assert (wrong.status_code, "The last day is before the first." in wrong.content.decode()) == (400, True)


def test_the_client_says_yes_in_the_portal(cast, book, away, browse, now, frozen):
    visit = book(cast.ada, at(10))
    move = ask_move(by=cast.desk.user, move=away().moves.get(), now=now)
    ada, address = browse(cast.ada.user), f"/portal/visits/proposed/{move.public_id}/"
    assert "Say yes or no" in ada.get("/portal/visits/").content.decode()
    assert ada.post(address, {"answer": "perhaps"}).status_code == 400
    assert ada.post(address, {"answer": "yes"}).status_code == 302
    visit.refresh_from_db()
    assert visit.starts == move.starts
    assert ada.get(address).status_code == 404   # answered


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_of_moves_costs_the_same_queries(cast, book, away, browse, frozen, count, django_assert_num_queries):
    people = [Client.objects.create(site=cast.site, given_name=f"Guest {n}", zone="Europe/London") for n in range(count)]
    for number, client in enumerate(people):
        book(client, at(10 + number))
    planned = away()
    assert queries.visit_types().count() == 3
    desk = browse(cast.desk.user)
    desk.get("/booking/")
    with django_assert_num_queries(5):
        desk.get(f"/booking/away/{planned.public_id}/")
    with django_assert_num_queries(6):
        desk.get("/booking/away/")
