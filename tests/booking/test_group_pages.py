"""Group visits on the pages of the desk and on the client's own."""

from __future__ import annotations

import pytest
import time_machine

from clinic.booking.models import Appointment, Claim, GroupVisit
from tests.booking.conftest import TEN
from tests.conftest import NOW


def test_the_day_shows_the_group_as_one_block_with_who_comes(cast, plan, join, browse):
    with time_machine.travel(NOW, tick=False):
        group, = plan()
        join(cast.ada)
        join(cast.bo)
        page = browse(cast.desk.user).get("/booking/", {"day": "2026-03-03"}).content.decode()
    assert page.count("Balance group") == 1
    assert f"/booking/groups/{group.public_id}/" in page
    for words in ("2 of 3 places taken", "Ada Quill", "Bo Marsh"):
        assert words in page


@pytest.mark.parametrize("weeks", [1, 3])
def test_the_list_takes_as_many_queries_for_three_groups_as_for_one(cast, plan, browse, weeks, django_assert_num_queries):
    desk = browse(cast.desk.user)
    with time_machine.travel(NOW, tick=False):
        plan(weeks=weeks)
        with django_assert_num_queries(10):
            page = desk.get("/booking/groups/")
    assert page.content.decode().count("of 3 taken") == weeks


def test_the_desk_plans_fills_and_calls_off_a_group_on_its_pages(cast, balance, browse):
    desk = browse(cast.desk.user)
    asked = {
        "visit_type": "balance", "clinician": str(cast.mina.public_id), "day": "2026-03-03", "time": "10:00", "weeks": "2"
    }
    with time_machine.travel(NOW, tick=False):
        assert desk.post("/booking/groups/", {**asked, "weeks": "99"}).status_code == 400
        assert desk.post("/booking/groups/", asked).status_code == 302
        again = desk.post("/booking/groups/", asked)
        assert again.status_code == 409
        assert "Mina already has a visit at that time." in again.content.decode()
        group = GroupVisit.objects.order_by("starts").first()
        page = f"/booking/groups/{group.public_id}/"
        assert "Ada Quill" in desk.get(page, {"find": "quill"}).content.decode()
        assert desk.post(page, {"client": str(cast.ada.public_id)}).status_code == 302
        twice = desk.post(page, {"client": str(cast.ada.public_id)})
        assert twice.status_code == 409
        assert "already has a visit" in twice.content.decode()
        assert desk.post(page, {"reason": ""}).status_code == 400
        assert desk.post(page, {"reason": "clinic"}).status_code == 302
    assert Appointment.objects.get().status == "cancelled"


def test_a_client_books_moves_and_cancels_a_place(cast, plan, browse):
    own = browse(cast.bo.user)
    with time_machine.travel(NOW, tick=False):
        plan(weeks=2)
        page = own.get("/portal/visits/new/", {"kind": "balance"}).content.decode()
        assert page.count("3 of 3 places left") == 2
        booked = own.post("/api/v1/me/visits", {"kind": "balance", "start": TEN.isoformat()}, "application/json").json()
        assert booked["in_group"] is True
        assert "It is a group" in own.get("/portal/visits/").content.decode()
        times = own.get(f"/api/v1/me/visits/{booked['id']}/move").json()["openings"]
        assert [(each["starts"], each["places_left"]) for each in times] == [("2026-03-10T10:00:00Z", 3)]
        moved = own.post(f"/api/v1/me/visits/{booked['id']}/move", {"start": times[0]["starts"]}, "application/json")
        assert (moved.status_code, moved.json()["starts"]) == (200, "2026-03-10T10:00:00Z")
        assert own.post(f"/api/v1/me/visits/{booked['id']}/cancel").status_code == 200
    assert not Claim.objects.filter(resource="client").exists()
