"""Suggestions and alerts over the API."""

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine

from programs.following.actions.raise_alert import raise_alert
from programs.following.models import Suggestion
from programs.prescribing.models import Revision
from tests.following.conftest import done


@pytest.fixture(autouse=True)
def at_eleven(now):
    with time_machine.travel(now + timedelta(days=1, hours=2), tick=False):
        yield


@pytest.fixture
def strong(report):
    for day in range(2):
        report(day, items=done(reps=12), pain_during=1)
    return Suggestion.objects.get()


def test_a_suggestion_with_its_evidence(cast, browse, program, strong):
    row = browse(cast.mina.user).get("/api/v1/suggestions").json()["results"][0]
    assert (row["id"], row["kind"], row["state"], row["revision"]) == (str(strong.public_id), "progress", "open", 1)
    assert (row["program"], row["client"]) == (str(program.public_id), str(cast.ada.public_id))
    assert row["evidence"]["rule"] == "two_for_two"
    assert len(row["evidence"]["logs"]) == 2
    assert row["resulting_revision"] is None


def test_accepting_twice_under_one_key_is_one_revision(cast, browse, strong):
    address, browser = f"/api/v1/suggestions/{strong.public_id}/accept", browse(cast.mina.user)
    answers = [
        browser.post(address, {"effective_from": "2026-03-06"}, "application/json", headers={"Idempotency-Key": "k1"})
        for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["resulting_revision"] == 2
    assert Revision.objects.get(number=2).effective_from.isoformat() == "2026-03-06"
    late = browser.post(address, {}, "application/json")
    assert (late.status_code, late.json()["title"], late.json()["state"]) == (409, "already_decided", "accepted")


def test_declining_needs_a_reason(cast, browse, strong):
    address, browser = f"/api/v1/suggestions/{strong.public_id}/decline", browse(cast.mina.user)
    bad = browser.post(address, {}, "application/json")
    assert (bad.status_code, list(bad.json()["errors"])) == (400, ["reason"])
    assert browser.post(address, {"reason": "Technique first"}, "application/json").json()["state"] == "declined"
    assert browser.get("/api/v1/suggestions").json()["results"] == []
    assert len(browser.get("/api/v1/suggestions?state=all").json()["results"]) == 1


def test_the_desks_alerts_hold_nothing_clinical(cast, browse, program, now):
    alert = raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="chest_pain", now=now)
    row = browse(cast.desk.user).get("/api/v1/alerts").json()["results"][0]
    assert set(row) == {"id", "client", "client_name", "phone", "at", "closed_at"}
    assert browse(cast.mina.user).get("/api/v1/alerts").json()["results"][0]["flag"] == "chest_pain"
    closed = browse(cast.mina.user).post(f"/api/v1/alerts/{alert.public_id}/close", {"note": "Called"}, "application/json")
    assert (closed.status_code, closed.json()["note"]) == (200, "Called")
    again = browse(cast.mina.user).post(f"/api/v1/alerts/{alert.public_id}/close", {"note": "Called"}, "application/json")
    assert (again.status_code, again.json()["title"]) == (409, "already_closed")


@pytest.mark.parametrize(("count", "queries"), [(1, 3), (3, 3)])
def test_the_list_takes_the_same_queries(cast, browse, strong, count, queries, django_assert_num_queries):
    for kind in ("contact", "reassess")[: count - 1]:
        Suggestion.objects.create(
            program=strong.program, kind=kind, evidence=strong.evidence, rule_set=strong.rule_set, revision=strong.revision,
            made=strong.made,
        )
    browser = browse(cast.mina.user)
    browser.get("/api/v1/suggestions")   # renews the session
    with django_assert_num_queries(queries):
        assert len(browser.get("/api/v1/suggestions").json()["results"]) == count
