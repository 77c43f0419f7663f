"""Plain words for a booking: the reading of them, and the page. Monday 2 March 2026, nine o'clock in London."""

from __future__ import annotations

import re
from datetime import date, time, timedelta

import pytest
import time_machine
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.booking.models import Appointment
from clinic.booking.rules.asking import read
from clinic.people.models import Client
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment
from tests.booking.test_pages import text_of
from tests.conftest import NOW

MONDAY = date(2026, 3, 2)
KINDS = [("first", "First visit"), ("follow-up", "Follow-up"), ("review", "Reassessment")]
PEOPLE = [("m", "Mina Vale"), ("t", "Theo Marsh"), ("q", "Mara Quinn")]
LATE = time.max


def understood(text, today=MONDAY):
    return read(text, kinds=KINDS, clinicians=PEOPLE, today=today)


@pytest.mark.parametrize(("text", "values"), [
    ("ada reassess next tue am", {
        "names": ("ada",), "kind": "review", "first": date(2026, 3, 10), "last": date(2026, 3, 10),
        "hours": (time(0), time(12))}),
    ("ada follow-up in 2 weeks after 15:00 with mara", {
        "names": ("ada",), "kind": "follow-up", "first": date(2026, 3, 16), "last": date(2026, 3, 22),
        "hours": (time(15), LATE), "clinician": "q"}),
    ("Ángela Quill", {"names": ("angela", "quill")}),
    ("7700 900101 fol tomorrow at 3pm", {
        "names": ("7700", "900101"), "kind": "follow-up", "first": date(2026, 3, 3), "hours": (time(15), time(15, 0, 59))}),
    ("17/05/1984", {"names": ("1984-05-17",), "first": None}),
    ("17 may 1984", {"names": ("1984-05-17",), "first": None}),
    ("ada mon", {"first": MONDAY, "last": MONDAY}),
    ("ada this fri", {"first": date(2026, 3, 6)}),
    ("ada tue next week", {"first": date(2026, 3, 9), "last": date(2026, 3, 15), "weekdays": frozenset({1})}),
    ("ada 1 march", {"first": date(2027, 3, 1)}),
    ("ada may 12th", {"first": date(2026, 5, 12)}),
    ("ada from 12 may until 20 may", {"first": date(2026, 5, 12), "last": date(2026, 5, 20)}),
    ("ada before fri", {"first": None, "last": date(2026, 3, 5)}),
    ("ada after fri before 11", {"first": date(2026, 3, 7), "hours": (time(0), time(11))}),
    ("ada between 9 and 11 on 2026-05-12", {"hours": (time(9), time(11)), "first": date(2026, 5, 12)}),
    ("ada in a month", {"first": date(2026, 4, 2)}),
    ('"may" jones 12 may', {"names": ("may", "jones"), "first": date(2026, 5, 12)}),
    ("may jones first visit", {"names": ("may", "jones"), "kind": "first", "first": None}),
])
def test_what_is_typed_is_read(text, values):
    asked = understood(text)
    assert {key: getattr(asked, key) for key in values} == values
    assert asked.problems == ()


@pytest.mark.parametrize(("text", "code", "words"), [
    ("ada with xanthe", "nobody_called", "xanthe"),
    ("ada with m", "several_called", "m"),
    ("ada follow-up reassess", "said_twice", "reassess"),
    ("ada am pm", "said_twice", "pm"),
    ("ada tomorrow after next week", "no_day", "after next week"),
    ("ada in 999 weeks", "no_day", "in 999 weeks"),
])
def test_what_cannot_be_is_named(text, code, words):
    assert [(problem.code, problem.words) for problem in understood(text).problems] == [(code, words)]


@pytest.mark.parametrize("text", ["30 feb", "25:00", "3/4", "12/05/2027", "next", "with", "in", "at 25"])
def test_what_is_no_word_of_time_stays_for_the_name_and_is_named_there(text):
    asked = understood(text)
    assert (asked.first, asked.hours, asked.clinician) == (None, None, None)


WORDS = """
ada quill next this tue tuesdays week weeks in 2 a after before between and 9 15:00 3pm am pm with mina "may 12 may on
2026-05-12 from until every twice for reassess follow-up 99 ١٢ - : "
"""


@given(st.lists(st.sampled_from(WORDS.split()), max_size=9))
@settings(max_examples=150)
def test_no_words_break_it_and_days_and_hours_stay_in_order(words):
    asked = understood(" ".join(words))
    assert asked.first is None or asked.last is None or asked.first <= asked.last
    assert asked.hours is None or asked.hours[0] < asked.hours[1]


@given(st.text(max_size=40))
@settings(max_examples=100)
def test_no_text_breaks_it(text):
    understood(text)


@pytest.fixture
def desk(cast, browse):
    with time_machine.travel(NOW, tick=False):
        yield browse(cast.desk.user)


@pytest.fixture
def due(cast):
    return plan_reassessment(
        by=cast.mina.user, episode=cast.ada_hip, reason="interval", earliest=MONDAY + timedelta(days=7),
        due=MONDAY + timedelta(days=9), latest=MONDAY + timedelta(days=14), now=NOW,
    )


def pressed(page, number=0):
    return re.findall(r'name="opening" value="([^"]+)"', page.content.decode())[number]


def hidden(page):
    return dict(re.findall(r'type="hidden" name="(visit_type|clinician|day)" value="([^"]*)"', page.content.decode()))


def test_it_shows_what_it_understood_and_books_only_when_pressed(cast, desk):
    page = desk.post("/booking/new/", {"text": "ada follow-up next tue after 15:00 with mina"})
    words = text_of(page)
    assert "Kind of visit Follow-up When Tuesday 10 March Time from 15:00 on With Mina" in words
    assert "15:00 Tuesday 10 March, Mina, Room 1" in words
    assert not Appointment.objects.exists()
    answer = desk.post(f"/booking/new/?client={cast.ada.public_id}", {"opening": pressed(page), **hidden(page)}, follow=True)
    assert "Booked: Ada Quill, Tuesday 10 March, 15:00, with Mina in Room 1." in text_of(answer)


def test_a_kind_that_was_not_said_is_the_look_that_is_due_and_both_are_tied(cast, desk, due):
    page = desk.post("/booking/new/", {"text": "quill"})
    words = text_of(page)
    assert "Kind of visit Reassessment (it is due)" in words
    assert "Due window 9 March to 16 March" in words
    assert "09:00 Monday 9 March, Mina, Room 1 Inside the due window, their own clinician" in words
    desk.post(f"/booking/new/?client={cast.ada.public_id}", {"opening": pressed(page), **hidden(page)})
    visit = Appointment.objects.get()
    assert Reassessment.objects.get().appointment == visit
    assert (visit.due_earliest, visit.due_latest) == (due.earliest, due.latest)


@pytest.mark.parametrize(("kind", "start", "tied"), [
    ("review", "2026-03-09T10:00:00+00:00", True), ("review", "2026-03-23T10:00:00+00:00", True),
    ("review", "2026-03-04T10:00:00+00:00", False), ("follow-up", "2026-03-09T10:00:00+00:00", False),
])
def test_only_a_visit_that_answers_the_look_is_tied_to_it(cast, desk, due, kind, start, tied):
    body = {"opening": f"{cast.mina.public_id} {start}", "visit_type": kind}
    assert desk.post(f"/booking/new/?client={cast.ada.public_id}", body).status_code == 302
    assert (Reassessment.objects.get().appointment is not None) == tied


def test_words_that_are_not_understood_are_named_and_the_first_opening_is_not_ready_to_press(desk):
    page = desk.post("/booking/new/", {"text": "ada blorp tomorrow with zed"})
    words = text_of(page)
    assert "Not understood: “ blorp ”" in words
    assert "No clinician here is called “zed”." in words
    assert "Ada Quill" in words
    assert not re.search(r'<button name="opening"[^>]*autofocus', page.content.decode())
    fine = desk.post("/booking/new/", {"text": "ada tomorrow"}).content.decode()
    assert re.search(r'<button name="opening"[^>]*autofocus', fine)


def test_two_clients_of_a_name_are_asked_about_and_the_words_kept(cast, desk):
    Client.objects.create(site=cast.site, given_name="Ada", family_name="Brook", zone=cast.site.zone, registered=NOW)
    page = desk.post("/booking/new/", {"text": "ada follow-up tomorrow"})
    assert "2 found" in text_of(page)
    chosen = desk.post("/booking/new/", {"text": "ada follow-up tomorrow", "client": str(cast.ada.public_id)})
    assert "Ada Quill born 17 May 1984" in text_of(chosen)
    assert "Tuesday 3 March" in text_of(chosen)


def test_a_clinician_finds_their_own_clients_and_hours_only(cast, browse):
    with time_machine.travel(NOW, tick=False):
        mina = browse(cast.mina.user)
        assert "Not understood: “ bo ”" in text_of(mina.post("/booking/new/", {"text": "bo tomorrow"}))
        assert "Theo" not in text_of(mina.post("/booking/new/", {"text": "ada tomorrow"}))
        assert mina.post("/booking/new/", {"text": "x", "client": str(cast.bo.public_id)}).status_code == 404


@pytest.mark.parametrize("more", [1, 3])
def test_the_page_takes_as_many_queries_for_three_clients_as_for_one(cast, desk, more, django_assert_num_queries):
    for number in range(more):
        Client.objects.create(
            site=cast.site, given_name="Ada", family_name=f"Brook {number}", zone=cast.site.zone, registered=NOW
        )
    desk.get("/booking/new/")
    # session, user, site, kinds, clinicians, names; found: names, count, page; facts: clinicians, kinds
    with django_assert_num_queries(11):
        desk.post("/booking/new/", {"text": "ada tomorrow"})


def test_the_box_is_on_every_page_of_the_desk_and_on_nobody_elses(cast, desk, browse):
    assert 'id="box"' in desk.get("/reassessments/").content.decode()
    assert 'id="box"' not in browse(cast.mina.user).get("/reassessments/").content.decode()
