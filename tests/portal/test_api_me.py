"""The client's API: their own, in the same words as the pages, and nobody else's."""

import json
import uuid
from datetime import UTC, datetime, timedelta

import pytest

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment
from programs.following.actions.log_session import log_session
from programs.following.models import Alert, DayRecord, MorningAnswer
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.prescribing.queries import newest_revision
from tests.portal.conftest import items

ME = "/api/v1/me"


def post(browser, path, data):
    return browser.post(f"{ME}/{path}", json.dumps(data), content_type="application/json")


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


@pytest.fixture
def logged(cast, program, now):
    entry = SessionEntry(
        log_id=uuid.uuid4(), edit=0, revision=newest_revision(program).public_id, day=now.date(), pain_during=3,
        items=tuple(ItemEntry(item.key, 110, 110) for item in items(3)),
    )
    return log_session(by=cast.ada.user, program=program, entry=entry, now=now)


def test_me_holds_a_first_name_and_whom_to_call(cast, ada):
    assert ada.get(ME).json() == {
        "id": str(cast.ada.public_id), "first_name": "Ada", "language": "en", "zone": "Europe/London",
        "clinic": "Harbour Lane", "clinic_phone": "+441632960100", "emergency_number": "999",
    }


def test_today_says_what_the_page_says(ada, program):
    body = ada.get(f"{ME}/today").json()
    assert (body["day"], body["stand"], body["stopped"], body["sessions_done"]) == ("2026-03-02", "asked", False, 0)
    assert body["revision"] == str(newest_revision(program).public_id)
    assert body["phase"] == {
        "kind": "kick_off", "day": 3, "of": 7, "sessions": {"minimum": 1, "full": 2}, "minimum_seconds": 355,
        "full_seconds": 870,
    }
    lean = body["items"][0]
    assert (lean["name"], lean["side"], lean["least_seconds"]) == ("Half-kneeling lean", "each", 140)
    assert lean["dose"] == {"holds": [2, 3], "seconds": [30, 30], "rest": 10, "type": "hold"}
    assert sum(step["seconds"] for step in lean["steps"]) == 225   # two sides of 110 s, and 5 s to turn


def test_without_a_program_today_is_empty_not_an_error(ada):
    body = ada.get(f"{ME}/today").json()
    assert (body["stand"], body["program"], body["items"], body["phase"]) == ("none", None, [], None)


def test_an_unchanged_day_is_not_sent_twice(ada, program, now, cast):
    first = ada.get(f"{ME}/today")
    again = ada.get(f"{ME}/today", headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    log_session(
        by=cast.ada.user, program=program, now=now,
        entry=SessionEntry(
            uuid.uuid4(), 0, newest_revision(program).public_id, now.date(), items=(ItemEntry(items(1)[0].key, 60, 60),)
        ),
    )
    changed = ada.get(f"{ME}/today", headers={"If-None-Match": first["ETag"]})
    assert changed.status_code == 200
    assert changed.json()["sessions_done"] == 1


def test_weeks_give_phases_and_days(ada, program, logged):
    body = ada.get(f"{ME}/weeks").json()
    assert [(phase["kind"], phase["first"], phase["now"]) for phase in body["phases"]] == [
        ("kick_off", "2026-02-28", True), ("taper", "2026-03-07", False), ("maintenance", "2026-03-21", False),
    ]
    today = [day for day in body["days"] if day["today"]]
    assert [(day["day"], day["state"], day["minimum"]) for day in today] == [("2026-03-02", "session", 355)]
    assert today[0]["done"] > 0
    assert len(body["days"]) <= 84


def test_a_morning_is_answered_once(ada, program, logged, clock, now):
    clock.move_to(now + timedelta(days=1))
    assert ada.get(f"{ME}/today").json()["morning_due"] == "2026-03-02"
    data = {"answer_id": str(uuid.uuid4()), "program": str(program.public_id), "day": "2026-03-02", "pain": 1}
    assert [post(ada, "mornings", data).status_code for _ in range(2)] == [200, 200]
    assert MorningAnswer.objects.count() == 1
    assert DayRecord.objects.get(program=program, day="2026-03-02").pain_next_morning == 1
    assert ada.get(f"{ME}/today").json()["morning_due"] is None


def test_a_morning_off_the_scale_is_refused(ada, program):
    data = {"answer_id": str(uuid.uuid4()), "program": str(program.public_id), "day": "2026-03-02"}
    for pain in (11, -1, 10**30, "much", None, 2.5):
        answer = post(ada, "mornings", data | {"pain": pain})
        assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json"), pain
        assert "pain" in answer.json()["errors"], pain
    assert MorningAnswer.objects.count() == 0


def test_an_alert_answers_whom_to_call(ada, cast, program):
    answer_id = str(uuid.uuid4())
    for _ in range(2):
        answer = post(ada, "alerts", {"answer_id": answer_id, "flag": "chest_pain"})
        assert answer.json() == {
            "answer_id": answer_id, "stop": True, "emergency_number": "999", "clinic_phone": "+441632960100",
        }
    assert Alert.objects.get().client == cast.ada
    assert ada.get(f"{ME}/today").json()["stopped"] is True


@pytest.mark.parametrize("data", [{}, {"flag": "chest_pain"}, {"answer_id": "x", "flag": "chest_pain"}, []])
def test_a_broken_alert_is_named(ada, data):
    answer = post(ada, "alerts", data)
    assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json")


@pytest.fixture
def visit(cast, now):
    def booked(day, client=None, clinician=None):
        return book_visit(
            by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=clinician or cast.mina,
            start=datetime(2026, 3, day, 10, 0, tzinfo=UTC), now=now,
        )

    return booked


def test_visits_come_in_pages_the_latest_first(ada, cast, visit):
    for day in (3, 4, 5):
        visit(day)
    visit(6, client=cast.bo, clinician=cast.theo)
    first = ada.get(f"{ME}/visits?page_size=2").json()
    assert [row["starts"][:10] for row in first["results"]] == ["2026-03-05", "2026-03-04"]
    assert (first["results"][0]["zone"], first["results"][0]["clinician"]) == ("Europe/London", "Mina")
    second = ada.get(first["next"]).json()
    assert [row["starts"][:10] for row in second["results"]] == ["2026-03-03"]
    assert second["next"] is None


@pytest.mark.parametrize("count", [1, 3])
def test_visits_cost_the_same_for_one_and_three(ada, visit, django_assert_num_queries, count):
    for day in range(count):
        visit(3 + day)
    with django_assert_num_queries(4):
        assert len(ada.get(f"{ME}/visits").json()["results"]) == count


def test_cancelling_over_the_api(ada, cast, visit):
    mine, theirs = visit(3), visit(4, client=cast.bo, clinician=cast.theo)
    assert post(ada, f"visits/{mine.public_id}/cancel", {}).json()["status"] == "cancelled"
    refused = post(ada, f"visits/{theirs.public_id}/cancel", {})
    assert (refused.status_code, refused["Content-Type"]) == (404, "application/problem+json")
    assert Appointment.objects.get(pk=theirs.pk).status == "booked"


@pytest.mark.parametrize("path", ["today", "weeks"])
def test_another_clients_program_is_not_there(cast, program, browse, path):
    assert browse(cast.bo.user).get(f"{ME}/{path}?program={program.public_id}").status_code == 404


def test_another_clients_morning_is_not_there(cast, program, browse):
    data = {"answer_id": str(uuid.uuid4()), "program": str(program.public_id), "day": "2026-03-02", "pain": 1}
    assert post(browse(cast.bo.user), "mornings", data).status_code == 404


def test_reading_never_writes(ada, program, writes):
    for path in ("", "/today", "/weeks", "/visits"):
        with writes() as made:
            assert ada.get(ME + path).status_code == 200, path
        assert made.found() == [], path
