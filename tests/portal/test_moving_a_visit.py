"""Ada moves a visit, says yes to one, and puts it into her calendar."""

from datetime import UTC, datetime, timedelta

import pytest
from icalendar import Calendar

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment
from clinic.booking.vocab import AppointmentStatus

START = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)   # a Tuesday


@pytest.fixture
def visit(cast, now):
    return book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=START, now=now
    )


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


def test_she_chooses_among_times_that_are_free_with_the_same_clinician(ada, visit, cast):
    answer = ada.get(f"/portal/visits/{visit.public_id}/move/")
    openings = answer.context["openings"]
    assert 1 < len(openings) <= 12
    assert {opening.clinician for opening in openings} == {cast.mina}
    assert START not in [opening.starts for opening in openings]
    chosen = openings[-1].starts
    assert ada.post(f"/portal/visits/{visit.public_id}/move/", {"start": chosen.isoformat()}).status_code == 302
    visit.refresh_from_db()
    assert (visit.starts, visit.clinician) == (chosen, cast.mina)


def test_a_time_that_somebody_took_meanwhile_is_refused_with_others_below(ada, visit, cast, now):
    wanted = START + timedelta(days=1)
    book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=wanted, now=now)
    answer = ada.post(f"/portal/visits/{visit.public_id}/move/", {"start": wanted.isoformat()})
    assert answer.status_code == 409
    assert 'name="start"' in answer.content.decode()
    visit.refresh_from_db()
    assert visit.starts == START


@pytest.mark.parametrize("start", ["", "soon", "2026-03-11T10:00", "2026-13-40T10:00Z"])
def test_what_is_not_a_time_is_refused(ada, visit, start):
    answer = ada.post(f"/portal/visits/{visit.public_id}/move/", {"start": start})
    assert answer.status_code == 400
    assert "Choose one of the times." in answer.content.decode()


def test_only_the_clinic_moves_a_kind_that_clients_may_not_book(ada, cast, now):
    review = book_visit(by=cast.desk.user, client=cast.ada, visit_type=cast.review, clinician=cast.mina, start=START, now=now)
    assert "Move it" not in ada.get("/portal/visits/").content.decode()
    answer = ada.post(f"/portal/visits/{review.public_id}/move/", {"start": (START + timedelta(days=1)).isoformat()})
    assert answer.status_code == 409
    assert "Only the clinic can move this kind of visit." in answer.content.decode()


def test_a_visit_that_has_begun_is_not_moved(ada, visit, clock):
    clock.move_to(START + timedelta(minutes=5))
    answer = ada.post(f"/portal/visits/{visit.public_id}/move/", {"start": (START + timedelta(days=1)).isoformat()})
    assert answer.status_code == 409


def test_she_says_yes_to_a_time_that_is_held(ada, visit):
    Appointment.objects.filter(pk=visit.pk).update(status=AppointmentStatus.PENDING)
    assert "This time waits for your yes." in ada.get("/portal/visits/").content.decode()
    for _ in range(2):
        assert ada.post(f"/portal/visits/{visit.public_id}/confirm/").status_code == 302
    visit.refresh_from_db()
    assert visit.status == AppointmentStatus.BOOKED


def test_a_cancelled_one_waits_for_no_yes(ada, visit):
    ada.post(f"/portal/visits/{visit.public_id}/cancel/")
    assert ada.post(f"/portal/visits/{visit.public_id}/confirm/").status_code == 409


def test_the_calendar_file_gives_nothing_away(ada, visit):
    answer = ada.get(f"/portal/visits/{visit.public_id}/appointment.ics")
    assert answer["Content-Type"].startswith("text/calendar")
    event = Calendar.from_ical(answer.content).walk("VEVENT")[0]
    assert (str(event["SUMMARY"]), event.decoded("DTSTART"), event.decoded("DTEND")) == (
        "Visit", START, START + timedelta(minutes=30)
    )
    assert str(event["UID"]) == f"{visit.public_id}@intervale"
    assert int(event["SEQUENCE"]) == 0
    for secret in (b"Mina", b"Ada", b"Follow-up", b"hip"):
        assert secret not in answer.content
