"""Proposed moves over the API: the desk lists, asks and confirms; the client answers; nothing moves before."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.models import Appointment
from clinic.reminders.models import Message
from tests.conftest import NOW

DAY = date(2026, 3, 4)
TEN = datetime(2026, 3, 4, 10, tzinfo=UTC)
MOVES = "/api/v1/proposed-moves"


@pytest.fixture(autouse=True)
def _at_nine():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def visits(cast):
    made = [
        book_visit(by=cast.desk.user, client=client, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=NOW)
        for client, start in ((cast.ada, TEN), (cast.bo, TEN + timedelta(hours=1)))
    ]
    plan_away(by=cast.desk.user, site=cast.site, clinician=cast.mina, first_day=DAY, last_day=DAY, anyone=True, now=NOW)
    return made


@pytest.fixture
def desk(cast, browse):
    return browse(cast.desk.user)


def test_the_desk_asks_and_the_client_says_yes(cast, browse, visits, desk):
    first, second = desk.get(MOVES).json()["results"]
    assert (first["appointment"], first["client"]["name"], first["state"]) == (
        str(visits[0].public_id), "Ada Quill", "proposed"
    )
    assert (first["was_starts"], first["zone"]) == ("2026-03-04T10:00:00Z", "Europe/London")
    asked = desk.post(f"{MOVES}/{first['id']}/ask").json()
    assert (asked["state"], asked["asked_at"]) == ("asked", "2026-03-02T09:00:00Z")
    assert desk.post(f"{MOVES}/{first['id']}/ask").status_code == 200, "asked twice, one message leaves"
    assert Message.objects.filter(kind="visit_move_asked").count() == 1
    assert Appointment.objects.get(pk=visits[0].pk).starts == TEN, "nothing has moved"
    own = browse(cast.ada.user)
    assert [each["id"] for each in own.get("/api/v1/me/proposed").json()["results"]] == [first["id"]]
    assert own.post(f"/api/v1/me/proposed/{first['id']}/accept").status_code == 200
    assert Appointment.objects.get(pk=visits[0].pk).starts.isoformat() == first["starts"].replace("Z", "+00:00")
    assert [each["id"] for each in desk.get(MOVES).json()["results"]] == [second["id"]], "the other is still open"


def test_the_desk_confirms_for_a_client_and_an_hour_that_has_gone_is_named(cast, visits, desk):
    first, second = desk.get(MOVES).json()["results"]
    book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, now=NOW,
        start=datetime.fromisoformat(first["starts"]),
    )
    gone = desk.post(f"{MOVES}/{first['id']}/confirm")
    assert (gone.status_code, gone.json()["title"], len(gone.json()["openings"])) == (409, "slot_taken", 3)
    assert desk.post(f"{MOVES}/{second['id']}/confirm").json()["state"] in {"confirmed"}


@pytest.mark.parametrize("count", [1, 2])
def test_the_list_takes_as_many_queries_for_two_as_for_one(cast, visits, desk, count, django_assert_num_queries):
    if count == 1:
        first = desk.get(MOVES).json()["results"][0]
        desk.post(f"{MOVES}/{first['id']}/confirm")
    desk.get(MOVES)
    with django_assert_num_queries(3):
        assert len(desk.get(MOVES).json()["results"]) == count
