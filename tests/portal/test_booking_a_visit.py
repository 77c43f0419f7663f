"""A client books a visit of a kind that the clinic lets clients book; Monday 2 March 2026, nine o'clock in London."""

from __future__ import annotations

import re
from datetime import datetime

import pytest
import time_machine

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, VisitType
from tests.conftest import NOW


@pytest.fixture
def ada(cast, browse):
    with time_machine.travel(NOW, tick=False):
        yield browse(cast.ada.user)


def starts(page):
    return re.findall(r'name="start" value="([^"]+)"', page.content.decode())


def test_a_time_is_booked_with_one_press(cast, ada):
    page = ada.get("/portal/visits/new/")
    assert len(starts(page)) == 12
    assert "Theo" not in page.content.decode(), "with who leads the episode"
    done = ada.post("/portal/visits/new/", {"start": starts(page)[0]}, follow=True)
    assert "Your visit is booked." in done.content.decode()
    visit = Appointment.objects.get()
    assert (visit.client, visit.clinician, visit.visit_type, visit.booked_by) == (
        cast.ada, cast.mina, cast.follow_up, cast.ada.user
    )


def test_a_time_that_went_meanwhile_is_said_with_others(cast, ada):
    start = starts(ada.get("/portal/visits/new/"))[0]
    book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, now=NOW,
        start=datetime.fromisoformat(start),
    )
    answer = ada.post("/portal/visits/new/", {"start": start})
    assert answer.status_code == 409
    assert "This time is not free any more." in answer.content.decode()
    assert starts(answer)
    assert ada.post("/portal/visits/new/", {"start": "soon"}).status_code == 400


def test_only_kinds_for_clients_and_not_without_end(cast, ada):
    assert ada.get("/portal/visits/new/?kind=first").status_code == 404
    for _ in range(4):
        assert ada.post("/portal/visits/new/", {"start": starts(ada.get("/portal/visits/new/"))[0]}).status_code == 302
    answer = ada.post("/portal/visits/new/", {"start": starts(ada.get("/portal/visits/new/"))[0]})
    assert (answer.status_code, Appointment.objects.count()) == (409, 4)
    VisitType.objects.update(clients_may_book=False)
    assert ada.get("/portal/visits/new/").status_code == 404
    assert "/portal/visits/new/" not in ada.get("/portal/visits/").content.decode()


def test_the_same_over_the_api(cast, ada):
    times = ada.get("/api/v1/me/openings").json()
    assert times["zone"] == "Europe/London"
    made = ada.post("/api/v1/me/visits", {"start": times["openings"][0]["starts"]}, content_type="application/json")
    assert (made.status_code, made.json()["status"]) == (201, "booked")
    again = ada.post("/api/v1/me/visits", {"start": times["openings"][0]["starts"]}, content_type="application/json")
    assert (again.status_code, again.json()["title"]) == (409, "slot_taken")
    assert ada.post("/api/v1/me/visits", {"start": "x"}, content_type="application/json").status_code == 400
