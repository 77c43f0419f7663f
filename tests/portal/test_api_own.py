"""Over the API: a client's visits, reminders, devices and measures, and nobody else's."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment
from clinic.booking.vocab import AppointmentStatus
from clinic.people.queries import consents
from clinic.visits.actions.record_result import record_result
from clinic.visits.models import Measure

ME = "/api/v1/me"
START = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)   # a Tuesday


def send(browser, path, data=None, method="POST"):
    return browser.generic(method, f"{ME}/{path}", json.dumps(data or {}), content_type="application/json")


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


@pytest.fixture
def visit(cast, now):
    return book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=START, now=now
    )


@pytest.fixture
def measured(cast):
    """A lunge of 6 cm, and 9 cm two weeks later; the MDC is 1.9 cm."""
    lunge = Measure.objects.create(
        code="lunge-distance", name="Lunge", scoring="single", item_minimum=0, item_maximum=30, unit="cm",
        direction="higher", mdc=1.9, by_side=True, source="Powden CJ et al. 2015, Man Ther 20:524-532",
    )
    for value, weeks in ((6, 0), (9, 2)):
        record_result(
            by=cast.mina.user, episode=cast.ada_hip, measure=lunge, values=[value], side="left",
            now=datetime(2026, 3, 2, 9, 0, tzinfo=UTC) + timedelta(weeks=weeks),
        )
    return lunge


def test_a_visit_moves_to_one_of_the_times_offered(ada, visit, cast):
    offered = ada.get(f"{ME}/visits/{visit.public_id}/move").json()
    assert offered["zone"] == "Europe/London"
    assert {row["clinician"] for row in offered["openings"]} == {"Mina"}
    chosen = offered["openings"][0]["starts"]
    answer = send(ada, f"visits/{visit.public_id}/move", {"start": chosen})
    assert (answer.status_code, answer.json()["starts"]) == (200, chosen)


def test_a_time_that_is_taken_is_refused_and_nothing_moves(ada, visit, cast, now):
    taken = START + timedelta(days=1)
    book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=taken, now=now)
    answer = send(ada, f"visits/{visit.public_id}/move", {"start": taken.isoformat()})
    assert (answer.status_code, answer.json()["title"]) == (409, "slot_taken")
    assert Appointment.objects.get(pk=visit.pk).starts == START


def test_a_visit_held_for_her_is_confirmed_once(ada, visit):
    Appointment.objects.filter(pk=visit.pk).update(status=AppointmentStatus.PENDING)
    for _ in range(2):
        assert send(ada, f"visits/{visit.public_id}/confirm").json()["status"] == "booked"


def test_a_calendar_file_gives_nothing_away(ada, visit):
    answer = ada.get(f"{ME}/visits/{visit.public_id}/calendar", headers={"Accept": "text/calendar"})
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    (event,) = Calendar.from_ical(answer.content).walk("VEVENT")
    assert (str(event["summary"]), event["dtstart"].dt) == ("Visit", START)
    assert b"Ada" not in answer.content
    assert b"Mina" not in answer.content


def test_reminders_are_read_and_chosen(ada, cast):
    held = {"channels": ["email"], "quiet_from": "21:00", "quiet_until": "08:00", "nudge_at": None}
    assert ada.get(f"{ME}/reminders").json() == held
    wanted = {"channels": ["sms"], "quiet_from": "20:30", "quiet_until": "07:00"}
    assert send(ada, "reminders", wanted, "PUT").json() == wanted | {"nudge_at": None}
    assert consents(cast.ada) == {"email": False, "sms": True}


def test_a_wish_to_be_reminded_of_sessions_is_kept_until_it_is_taken_back(ada):
    wanted = {"channels": ["email"], "quiet_from": "20:30", "quiet_until": "07:00"}
    steps = [({"nudge_at": "18:30"}, "18:30"), ({}, "18:30"), ({"nudge_at": None}, None), ({}, None)]
    for said, held in steps:
        assert send(ada, "reminders", wanted | said, "PUT").json()["nudge_at"] == held
        assert ada.get(f"{ME}/reminders").json()["nudge_at"] == held


def test_the_wish_ends_with_the_last_channel(ada):
    wanted = {"channels": ["email"], "quiet_from": "20:30", "quiet_until": "07:00", "nudge_at": "18:30"}
    send(ada, "reminders", wanted, "PUT")
    assert send(ada, "reminders", wanted | {"channels": []}, "PUT").json()["nudge_at"] is None


def test_a_wish_in_the_quiet_hours_is_refused_whichever_of_the_two_was_changed(ada):
    wanted = {"channels": ["email"], "quiet_from": "20:30", "quiet_until": "07:00"}
    answer = send(ada, "reminders", wanted | {"nudge_at": "22:00"}, "PUT")
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["nudge_at"])
    assert send(ada, "reminders", wanted | {"nudge_at": "18:30"}, "PUT").status_code == 200
    answer = send(ada, "reminders", wanted | {"quiet_from": "18:00"}, "PUT")
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["nudge_at"])
    assert ada.get(f"{ME}/reminders").json() == wanted | {"nudge_at": "18:30"}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("quiet_from", "25:00"), ("quiet_until", "8"), ("channels", ["pigeon"]), ("channels", None), ("nudge_at", "18:15"),
        ("nudge_at", "24:00"),
    ],
)
def test_what_reminders_cannot_be_is_said_at_the_field(ada, field, value):
    wanted = {"channels": [], "quiet_from": "20:30", "quiet_until": "07:00", field: value}
    answer = send(ada, "reminders", wanted, "PUT")
    assert (answer.status_code, list(answer.json()["errors"])) == (400, [field])
    assert ada.get(f"{ME}/reminders").json()["channels"] == ["email"]


def test_another_device_is_signed_out(ada, cast, browse):
    lost = browse(cast.ada.user)
    rows = ada.get(f"{ME}/devices").json()["results"]
    assert sorted(row["here"] for row in rows) == [False, True]
    there = next(row["id"] for row in rows if not row["here"])
    assert send(ada, f"devices/{there}/end").status_code == 204
    assert lost.get(ME).status_code == 401
    assert ada.get(ME).status_code == 200


def test_measures_say_what_a_difference_means(ada, measured, clock):
    clock.move_to(datetime(2026, 3, 17, 9, 0, tzinfo=UTC))
    newest, first = ada.get(f"{ME}/measures").json()["results"]
    assert (newest["value"], newest["first"], newest["change"], newest["better"]) == (9, 6, "changed_beyond_error", "higher")
    assert (first["value"], first["change"]) == (6, "no_detectable_change")
    page = ada.get("/portal/measures/").content.decode()
    assert "How far your ankle bends, left" in page
    assert "9 cm" in page
    assert "A little better than at first." in page


def test_nobody_elses_measures_are_seen(browse, cast, measured):
    assert browse(cast.bo.user).get(f"{ME}/measures").json()["results"] == []
    assert "cm" not in browse(cast.bo.user).get("/portal/measures/").content.decode()


@pytest.mark.parametrize("path", ["measures", "devices"])
def test_a_list_costs_the_same_however_long(ada, measured, path, browse, cast):
    with CaptureQueriesContext(connection) as short:
        ada.get(f"{ME}/{path}")
    for _ in range(3):
        browse(cast.ada.user)
    record_result(by=cast.mina.user, episode=cast.ada_hip, measure=measured, values=[9], side="left", now=START)
    with CaptureQueriesContext(connection) as long:
        ada.get(f"{ME}/{path}")
    assert len(short) == len(long) == {"measures": 3, "devices": 3}[path]
