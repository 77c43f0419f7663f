"""The book on screen: Monday 2 March 2026, nine o'clock in London."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from django.urls import reverse

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.models import Appointment, WorkingHours
from clinic.people.models import Site
from tests.conftest import NOW

TEN = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def monday():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def book(cast, now):
    def booked(start=TEN, client=None, **more):
        return book_visit(
            by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start,
            now=now, **more,
        )

    return booked


@pytest.fixture
def desk(cast, browse):
    return browse(cast.desk.user)


def text_of(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


@pytest.mark.parametrize("visits", [1, 3])
def test_the_day_takes_as_many_queries_for_three_visits_as_for_one(book, desk, visits, django_assert_num_queries):
    for n in range(visits):
        book(TEN + timedelta(hours=n))
    desk.get("/booking/new/")   # the first request of a session notes how long it may last
    # session, user, sites, then visits, clinicians, hours, special hours, absences, what can be taken back
    with django_assert_num_queries(10):
        answer = desk.get("/booking/")
    assert answer.content.count(b'class="visit ') == visits


def test_the_day_shows_who_comes_when_and_how_it_stands(cast, book, desk):
    book()
    cancel_visit(by=cast.desk.user, appointment=book(TEN + timedelta(hours=2)), reason="client", now=NOW)
    answer = desk.get("/booking/")
    words = text_of(answer)
    assert "Monday 2 March 2026" in words
    assert "10:00 –10:30 Ada Quill Booked Follow-up" in words
    assert "12:00 Ada Quill Cancelled The client asked" in words
    assert "1 visit in the book" in words
    # ten o'clock is twelve rows of five minutes below nine; half an hour is six rows high
    assert 'class="visit at-12 for-6 v-booked"' in answer.content.decode()
    assert "style=" not in answer.content.decode()


def test_days_are_walked_and_a_nonsense_day_is_today(desk):
    words = desk.get("/booking/?day=2026-03-29").content.decode()
    assert "?day=2026-03-28" in words
    assert "?day=2026-03-30" in words
    assert "Nobody is in that day." in words
    for nonsense in ("yesterday", "9999-12-31", "0001-01-01", "2026-02-30"):
        assert "Monday 2 March 2026" in text_of(desk.get("/booking/", {"day": nonsense}))


def test_a_visit_outside_hours_widens_the_day(cast, desk, now):
    import_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.first, clinician=cast.mina, now=now,
        start=datetime(2026, 3, 1, 23, 30, tzinfo=UTC),
    )
    sunday, monday = (desk.get("/booking/", {"day": day}).content.decode() for day in ("2026-03-01", "2026-03-02"))
    assert 'class="visit at-6 for-6 v-booked"' in sunday
    assert 'class="visit at-0 for-6 v-booked"' in monday
    assert "0 visits in the book" in monday


def test_another_site_is_chosen_by_name(cast, desk):
    Site.objects.create(
        name="Mill Road", zone="America/New_York", phone="+441632960101", emergency_number="911", region_code="US"
    ).staff.add(cast.desk)
    assert "Mill Road. 0 visits" in text_of(desk.get("/booking/", {"site": "Mill Road"}))
    assert "Harbour Lane. 0 visits" in text_of(desk.get("/booking/", {"site": "Elsewhere"}))


def test_a_visit_is_marked_with_one_click_and_taken_back(cast, book, desk):
    visit = book()
    page = reverse("booking:visit", args=[visit.public_id])
    assert "Arrived Check in Finish" in text_of(desk.get(page))
    answer = desk.post(page, {"status": "arrived"}, follow=True)
    assert answer.redirect_chain == [("/booking/?day=2026-03-02", 302)]
    assert "Ada Quill: arrived." in text_of(answer)
    desk.post(page, {"status": "booked"})
    visit.refresh_from_db()
    assert visit.status == "booked"


def test_cancelling_asks_why(book, desk):
    visit = book()
    page = reverse("booking:visit", args=[visit.public_id])
    assert desk.post(page, {"reason": ""}).status_code == 400
    assert desk.post(page, {"status": "cancelled"}).status_code == 400
    assert desk.post(page, {"reason": "client"}).status_code == 302
    visit.refresh_from_db()
    assert visit.cancel_reason == "client"


def test_what_cannot_be_done_is_said_on_the_page(book, desk):
    page = reverse("booking:visit", args=[book(TEN + timedelta(days=1)).public_id])
    answer = desk.post(page, {"status": "noshow"})
    assert answer.status_code == 409
    assert "It is too early to mark this visit no-show." in text_of(answer)


def test_both_clocks_are_shown_for_a_client_in_another_zone(cast, book, desk):
    cast.ada.zone = "America/New_York"
    cast.ada.save()
    words = text_of(desk.get(reverse("booking:visit", args=[book().public_id])))
    assert "Monday 2 March, 05:00 EST. At the clinic: 10:00 GMT." in words, words


def test_a_client_is_found_without_a_name_in_an_address(desk, cast):
    assert "Words that are understood" in text_of(desk.get("/booking/new/"))
    answer = desk.post("/booking/new/", {"text": "quill"})
    assert "Ada Quill born 17 May 1984" in text_of(answer)
    assert f"?client={cast.ada.public_id}" in answer.content.decode()
    assert "Not understood: “ nobody ”" in text_of(desk.post("/booking/new/", {"text": "nobody"}))


def test_an_opening_is_booked_by_pressing_its_button(cast, desk):
    page = f"/booking/new/?client={cast.ada.public_id}"
    offered = desk.get(page)
    assert "Their own clinician, leaves no gap too short to use" in text_of(offered)
    value = re.search(r'name="opening" value="([^"]+)"', offered.content.decode())[1]
    answer = desk.post(page, {"opening": value, "visit_type": "follow-up", "note": "Rings the bell"}, follow=True)
    assert "Booked: Ada Quill, Monday 2 March, 09:00, with Mina in Room 1." in text_of(answer)
    assert Appointment.objects.get().note == "Rings the bell"


def test_a_taken_opening_is_refused_with_others_and_the_note_is_kept(cast, book, desk):
    book(client=cast.bo)
    value = f"{cast.mina.public_id} {TEN.isoformat()}"
    page = f"/booking/new/?client={cast.ada.public_id}"
    answer = desk.post(page, {"opening": value, "visit_type": "follow-up", "note": "Rings the bell"})
    words = text_of(answer)
    assert answer.status_code == 409
    assert "Mina already has a visit at that time." in words
    assert "The next free times 10:35 Monday 2 March" in words
    assert 'value="Rings the bell"' in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({}, "Choose an opening, or give a day, a time and a clinician."),
        ({"own_day": "2026-03-07", "own_time": "10:00"}, "Mina is not working for all of that time."),
        ({"own_day": "2026-03-02", "own_time": "08:00"}, "That time is already over."),
        ({"own_day": "2026-03-03", "own_time": "10:02"}, "Visits start on a full five minutes"),
        ({"own_day": "9999-12-31", "own_time": "10:00"}, "Choose a day near today."),
        ({"opening": "x"}, "There is nothing here"),
        ({"opening": "x y"}, "Give the start as a date and time with an offset"),
    ],
)
def test_a_time_that_cannot_be_is_refused_in_words(cast, desk, typed, sentence):
    body = {"visit_type": "follow-up", "own_clinician": str(cast.mina.public_id), **typed}
    answer = desk.post(f"/booking/new/?client={cast.ada.public_id}", body)
    assert answer.status_code in (400, 404)
    assert sentence in text_of(answer) or typed.get("opening") == "x"
    assert not Appointment.objects.exists()


@pytest.mark.parametrize(
    ("day", "sentence", "choices", "instants"),
    [
        ("2026-03-29", "there is no 01:30", ["00:30 GMT", "02:30 BST"], [0, 1]),
        ("2026-10-25", "01:30 comes twice", ["01:30 BST", "01:30 GMT"], [0, 1]),
    ],
)
def test_a_time_in_a_clock_change_is_asked_about_and_each_answer_can_be_booked(
    cast, desk, day, sentence, choices, instants
):
    WorkingHours.objects.create(
        clinician=cast.mina, site=cast.site, rule="FREQ=DAILY", first_day=date(2026, 3, 1), starts=time(0), ends=time(5)
    )
    page = f"/booking/new/?client={cast.ada.public_id}"
    body = {"own_day": day, "own_time": "01:30", "own_clinician": str(cast.mina.public_id), "visit_type": "follow-up"}
    answer = desk.post(page, body)
    assert answer.status_code == 400
    assert sentence in text_of(answer)
    buttons = re.findall(r'name="opening" value="([^"]+)">([^<]+)</button>', answer.content.decode())
    assert [words for _, words in buttons] == choices
    for value, _ in buttons:
        assert desk.post(page, {"opening": value, "visit_type": "follow-up"}).status_code == 302
    booked = list(Appointment.objects.values_list("starts", flat=True))
    assert [start.hour for start in booked] == instants
    assert {start.minute for start in booked} == {30}


def test_moving_offers_openings_and_says_where_it_went(cast, book, desk):
    visit = book()
    page = reverse("booking:move", args=[visit.public_id])
    offered = desk.get(page)
    assert "Move the visit of Ada Quill" in text_of(offered)
    value = re.search(r'name="opening" value="([^"]+)"', offered.content.decode())[1]
    answer = desk.post(page, {"opening": value}, follow=True)
    assert "Moved: Ada Quill, Monday 2 March, 09:00, with Mina in Room 1." in text_of(answer)


def test_moving_onto_another_visit_is_refused_with_others(cast, book, desk):
    visit, other = book(), book(TEN + timedelta(hours=2), client=cast.bo)
    answer = desk.post(
        reverse("booking:move", args=[visit.public_id]), {"opening": f"{cast.mina.public_id} {other.starts.isoformat()}"}
    )
    assert answer.status_code == 409
    assert "Mina already has a visit at that time." in text_of(answer)
    assert "Take this one" in text_of(answer)


def test_the_access_of_addresses_that_are_no_clients(cast, desk, browse):
    assert desk.get("/booking/new/?client=1").status_code == 404
    assert browse(cast.theo.user).get(f"/booking/new/?client={cast.ada.public_id}").status_code == 404


def test_a_clients_page_shows_the_visits_and_a_way_to_book(cast, book, desk, browse):
    import_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.theo, start=TEN - timedelta(weeks=1),
        now=NOW, status="fulfilled",
    )
    page = reverse("people:client", args=[cast.ada.public_id])
    book()
    words = text_of(desk.get(page))
    assert "Monday 2 March 2026, 10:00 , Follow-up with Mina Booked" in words
    assert "23 February 2026, 10:00 , Follow-up with Theo Finished" in words
    assert "with Theo" not in text_of(browse(cast.mina.user).get(page))
