"""Reassessments and results over the API."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
import time_machine

from clinic.booking.models import Appointment
from clinic.visits.models import Result

WINDOW = {"earliest": date(2026, 2, 18), "due": date(2026, 2, 20), "latest": date(2026, 2, 27)}


@pytest.fixture(autouse=True)
def _nine_o_clock(now):
    with time_machine.travel(now, tick=False):
        yield


def post(browser, address, body, **headers):
    return browser.post(address, body, content_type="application/json", headers=headers)


def test_the_list_is_by_due_day_and_holds_nothing_clinical(cast, look, browse):
    look(WINDOW["due"] + timedelta(days=1), episode=cast.bo_neck)
    row = look(**WINDOW)
    body = browse(cast.desk.user).get("/api/v1/reassessments").json()
    assert body["next"] is None
    assert body["results"][0] == {
        "id": str(row.public_id), "client": str(cast.ada.public_id), "episode": str(cast.ada_hip.public_id),
        "clinician": str(cast.mina.public_id), "reason": "kick_off_end", "earliest": "2026-02-18", "due": "2026-02-20",
        "latest": "2026-02-27", "state": "overdue", "days": 10, "booked_for": None,
    }
    assert len(body["results"]) == 2


def test_the_list_comes_in_pages_that_miss_and_repeat_nothing(cast, look, browse):
    rows = [look(WINDOW["due"], reason=reason) for reason in ("kick_off_end", "interval", "flag")]
    browser, address, seen = browse(cast.desk.user), "/api/v1/reassessments?page_size=1", []
    while address:
        body = browser.get(address).json()
        seen += [row["id"] for row in body["results"]]
        address = body["next"]
    assert seen == [str(row.public_id) for row in rows]


def test_the_list_costs_the_same_for_one_and_three(cast, look, browse, django_assert_num_queries):
    browser = browse(cast.desk.user)
    browser.get("/api/v1/reassessments")   # the first request of a session writes when it began
    for reason in (("kick_off_end",), ("interval", "flag")):
        for each in reason:
            look(WINDOW["due"], reason=each)
        with django_assert_num_queries(4):
            browser.get("/api/v1/reassessments")


def test_the_list_by_state(cast, look, browse):
    look(**WINDOW)
    browser = browse(cast.desk.user)
    assert len(browser.get("/api/v1/reassessments?state=overdue").json()["results"]) == 1
    assert browser.get("/api/v1/reassessments?state=booked").json()["results"] == []
    wrong = browser.get("/api/v1/reassessments?state=late")
    assert wrong.status_code == 400
    assert wrong["Content-Type"] == "application/problem+json"
    assert "Choose one of not_yet" in wrong.json()["errors"]["state"]


def test_booking_twice_with_one_key_books_once(cast, look, browse):
    row = look(**WINDOW)
    browser, address = browse(cast.desk.user), f"/api/v1/reassessments/{row.public_id}/book"
    body = {"clinician": str(cast.mina.public_id), "start": "2026-03-03T10:00:00Z"}
    first = post(browser, address, body, **{"Idempotency-Key": "a"})
    again = post(browser, address, body, **{"Idempotency-Key": "a"})
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert first.json()["id"] == str(Appointment.objects.get().public_id)
    other = post(browser, address, {**body, "start": "2026-03-03T12:00:00Z"})
    assert (other.status_code, other.json()["title"]) == (409, "already_booked")


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "clinician"), ({"clinician": "Mina", "start": "2026-03-03T10:00:00Z"}, "clinician"),
        ({"start": "soon"}, "start"),
    ],
)
def test_a_booking_that_cannot_be_read_names_the_field(cast, look, browse, body, field):
    answer = post(browse(cast.desk.user), f"/api/v1/reassessments/{look(**WINDOW).public_id}/book", body)
    assert answer.status_code == 400
    assert field in answer.json()["errors"]
    assert not Appointment.objects.exists()


def test_a_result_is_scored_and_kept(cast, measures, browse):
    answer = post(
        browse(cast.mina.user), f"/api/v1/episodes/{cast.ada_hip.public_id}/results",
        {"measure": "quickdash", "values": [2] * 10 + [None]},
    )
    assert answer.status_code == 201
    assert answer.json()["value"] == 25.0
    assert Result.objects.get().item_values == [2] * 10 + [None]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"measure": "mood", "values": [1]}, "measure"), ({"measure": "pain-now", "values": [11]}, "values.1"),
        ({"measure": "pain-now", "values": ["high"]}, "values"), ({"measure": "pain-now", "values": []}, "values"),
        ({"measure": "hip-flexion", "values": [100]}, "side"), ({"measure": "pain-now"}, "values"),
        ({"measure": "pain-now", "values": [1] * 61}, "values"),
    ],
)
def test_a_bad_result_names_the_field_and_keeps_nothing(cast, measures, browse, body, field):
    answer = post(browse(cast.mina.user), f"/api/v1/episodes/{cast.ada_hip.public_id}/results", body)
    assert answer.status_code == 400
    assert field in answer.json()["errors"]
    assert not Result.objects.exists()
