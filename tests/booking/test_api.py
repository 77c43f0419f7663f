"""The API of booking: shapes, bounds, problems."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from uuid import uuid4

import pytest
import time_machine

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, WorkingHours
from clinic.reminders.models import Message
from tests.conftest import NOW

TEN = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def monday():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def desk(cast, browse):
    return browse(cast.desk.user)


@pytest.fixture
def wanted(cast):
    return {
        "client": str(cast.ada.public_id), "clinician": str(cast.mina.public_id), "visit_type": "follow-up",
        "start": "2026-03-02T10:00:00+00:00",
    }


def post(browser, path, body, **headers):
    return browser.post(f"/api/v1/{path}", json.dumps(body), content_type="application/json", headers=headers)


def book(cast, start=TEN, client=None):
    return book_visit(
        by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=NOW
    )


def test_a_visit_is_booked_and_read_again(cast, desk, wanted):
    answer = post(desk, "appointments", {**wanted, "room": "Hall", "note": "Rings"})
    body = answer.json()
    assert answer.status_code == 201
    assert body == {
        "id": body["id"], "client": {"id": str(cast.ada.public_id), "name": "Ada Quill"},
        "clinician": {"id": str(cast.mina.public_id), "name": "Mina"}, "room": "Hall", "visit_type": "follow-up",
        "starts": "2026-03-02T10:00:00Z", "ends": "2026-03-02T10:30:00Z", "zone": "Europe/London", "status": "booked",
        "cancel_reason": "", "due_earliest": None, "due_latest": None, "note": "Rings", "version": 1,
        "group": None,
    }
    assert desk.get(f"/api/v1/appointments/{body['id']}").json() == body


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"start": "2026-03-02T10:00:00"}, "invalid", "start"),
        ({"start": "soon"}, "invalid", "start"),
        ({"start": None}, "invalid", "start"),
        ({"start": "0001-01-01T00:00:00+14:00"}, "invalid", "start"),
        ({"start": "9999-12-31T23:55:00+00:00"}, "too_far", "start"),
        ({"start": "2026-03-02T10:01:00+00:00"}, "off_grid", "start"),
        ({"start": "2026-03-01T10:00:00+00:00"}, "in_the_past", "start"),
        ({"start": "2026-03-02T20:00:00+00:00"}, "outside_hours", "start"),
        ({"local": {"day": "2026-03-02", "time": "10:00"}}, "invalid", "start"),
        ({"client": "1"}, "invalid", "client"),
        ({"visit_type": "x" * 33}, "invalid", "visit_type"),
        ({"note": "x" * 201}, "invalid", "note"),
        ({"note": "\x00"}, "invalid", "note"),
        ({"due_earliest": "9999-12-31"}, "invalid", "due_earliest"),
        ({"due_earliest": "2026-03-05", "due_latest": "2026-03-04"}, "invalid", "due_latest"),
    ],
)
def test_values_that_cannot_be_used_are_named(desk, wanted, change, code, field):
    answer = post(desk, "appointments", {**wanted, **change})
    body = answer.json()
    assert (answer.status_code, body["title"], list(body["errors"])) == (400, code, [field])
    assert answer["Content-Type"] == "application/problem+json"
    assert not Appointment.objects.exists()


@pytest.mark.parametrize("field", ["client", "clinician", "visit_type", "room"])
def test_what_is_not_there_is_not_found(desk, wanted, field):
    other = str(uuid4()) if field in ("client", "clinician") else "nothing"
    assert post(desk, "appointments", {**wanted, field: other}).status_code == 404


def test_a_clinician_books_for_themselves_only(cast, browse, wanted):
    mina = browse(cast.mina.user)
    assert post(mina, "appointments", {**wanted, "clinician": str(cast.theo.public_id)}).status_code == 404
    assert post(mina, "appointments", wanted).status_code == 201


def test_a_local_time_is_taken_on_the_sites_clock(cast, desk, wanted):
    del wanted["start"]
    answer = post(desk, "appointments", {**wanted, "local": {"day": "2026-04-02", "time": "10:00"}})
    assert (answer.status_code, answer.json()["starts"]) == (201, "2026-04-02T09:00:00Z")


@pytest.mark.parametrize(
    ("day", "code", "choices"),
    [
        ("2026-03-29", "nonexistent_time", ["2026-03-29T00:30:00+00:00", "2026-03-29T02:30:00+01:00"]),
        ("2026-10-25", "ambiguous_time", ["2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00"]),
    ],
)
def test_a_time_in_a_clock_change_comes_back_with_choices(cast, desk, wanted, day, code, choices):
    WorkingHours.objects.create(
        clinician=cast.mina, site=cast.site, rule="FREQ=DAILY", first_day=date(2026, 3, 1), starts=time(0), ends=time(5)
    )
    del wanted["start"]
    answer = post(desk, "appointments", {**wanted, "local": {"day": day, "time": "01:30"}})
    body = answer.json()
    assert (answer.status_code, body["title"]) == (400, code)
    assert [choice["start"] for choice in body["choices"]] == choices
    made = [post(desk, "appointments", {**wanted, "start": choice}) for choice in choices]
    assert [one.status_code for one in made] == [201, 201]
    assert len({one.json()["starts"] for one in made}) == 2


def test_a_taken_time_comes_back_with_the_next_openings(cast, desk, wanted):
    book(cast, client=cast.bo)
    body = post(desk, "appointments", wanted).json()
    assert (body["status"], body["title"], body["taken"]) == (409, "slot_taken", "clinician")
    best = body["openings"][0]
    assert set(best) == {"clinician", "clinician_name", "room", "starts", "ends"}
    again = {**wanted, "clinician": best["clinician"], "start": best["starts"]}
    assert post(desk, "appointments", again).status_code == 201


def test_the_same_key_books_once(cast, desk, wanted):
    first = post(desk, "appointments", wanted, idempotency_key="k")
    again = post(desk, "appointments", wanted, idempotency_key="k")
    assert (first.status_code, again.status_code, first.json()) == (201, 201, again.json())
    assert (Appointment.objects.count(), Message.objects.count()) == (1, 1)
    assert post(desk, "appointments", {**wanted, "note": "x"}, idempotency_key="k").status_code == 422


def test_a_visit_is_moved_marked_and_cancelled(cast, desk):
    path = f"appointments/{book(cast).public_id}"
    moved = post(desk, f"{path}/move", {"start": "2026-03-02T11:00:00+00:00", "clinician": str(cast.theo.public_id)}).json()
    assert (moved["starts"], moved["clinician"]["name"], moved["version"]) == ("2026-03-02T11:00:00Z", "Theo", 2)
    assert post(desk, f"{path}/mark", {"status": "arrived"}).json()["status"] == "arrived"
    assert post(desk, f"{path}/mark", {"status": "gone"}).status_code == 400
    assert post(desk, f"{path}/move", {"start": "2026-03-02T12:00:00+00:00"}).json()["title"] == "wrong_status"
    assert post(desk, f"{path}/cancel", {"reason": "x"}).status_code == 400
    assert post(desk, f"{path}/cancel", {"reason": "client"}).json()["status"] == "cancelled"


def test_moving_and_bringing_back_meet_the_same_wall(cast, desk):
    visit, other = book(cast), book(cast, TEN + timedelta(hours=1), cast.bo)
    path = f"appointments/{visit.public_id}"
    assert post(desk, f"{path}/move", {"start": other.starts.isoformat()}).json()["title"] == "slot_taken"
    post(desk, f"{path}/cancel", {"reason": "client"})
    book(cast, client=cast.bo)
    answer = post(desk, f"{path}/mark", {"status": "booked"})
    assert (answer.status_code, answer.json()["title"]) == (409, "slot_taken")


def test_visits_are_listed_in_order_a_page_at_a_time(cast, desk, django_assert_num_queries):
    for n in (2, 0, 1):
        book(cast, TEN + timedelta(hours=n))
    book(cast, TEN + timedelta(days=1))
    desk.get("/api/v1/appointments")   # the first request of a session notes how long it may last
    # session, user, site, visits
    with django_assert_num_queries(4):
        first = desk.get("/api/v1/appointments?from=2026-03-02&to=2026-03-02&page_size=2").json()
    second = desk.get(first["next"]).json()
    hours = [row["starts"][11:13] for page in (first, second) for row in page["results"]]
    assert (hours, second["next"]) == (["10", "11", "12"], None)
    with django_assert_num_queries(4):
        assert len(desk.get("/api/v1/appointments?from=2026-03-03").json()["results"]) == 1


def test_openings_are_offered_with_reasons(cast, desk):
    day = {"from": "2026-03-03", "to": "2026-03-03"}
    asked = {"visit_type": "follow-up", "client": str(cast.ada.public_id), "limit": 2, **day}
    body = desk.get("/api/v1/openings", asked).json()
    assert body["openings"][0] == {
        "clinician": {"id": str(cast.mina.public_id), "name": "Mina"}, "room": "Room 1", "starts": "2026-03-03T09:00:00Z",
        "ends": "2026-03-03T09:30:00Z", "reasons": ["same_clinician", "no_gap"],
        "places_left": None, "places": None,
    }
    assert len(body["openings"]) == 2
    theo = desk.get("/api/v1/openings", {**asked, "clinician": str(cast.theo.public_id)}).json()
    assert {opening["clinician"]["name"] for opening in theo["openings"]} == {"Theo"}


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({}, 400), ({"visit_type": "nothing"}, 404), ({"visit_type": "first", "limit": "0"}, 400),
        ({"visit_type": "first", "limit": str(10**30)}, 400), ({"visit_type": "first", "from": "2026-02-30"}, 400),
        ({"visit_type": "first", "to": "9999-12-31"}, 400), ({"visit_type": "first", "to": "2026-12-31"}, 400),
        ({"visit_type": "first", "from": "2026-03-09", "to": "2026-03-08"}, 400),
        ({"visit_type": "first", "clinician": "x"}, 400),
        ({"visit_type": "first", "client": "00000000-0000-4000-8000-000000000000"}, 404),
        ({"visit_type": "first"}, 200),
    ],
    ids=str,
)
def test_what_is_asked_for_openings_has_bounds(desk, query, status):
    assert desk.get("/api/v1/openings", query).status_code == status
