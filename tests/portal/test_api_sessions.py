"""Handing over what a phone has kept: each entry by itself, once, however often it is sent."""

import json
import uuid

import pytest

from programs.following.models import DayRecord, SessionLog
from programs.prescribing.queries import newest_revision
from tests.portal.conftest import items

URL = "/api/v1/me/sessions"


@pytest.fixture
def ada(cast, program, browse):
    return browse(cast.ada.user)


@pytest.fixture
def entry(program):
    """entry(name=value) -> one session as a phone keeps it."""
    revision = str(newest_revision(program).public_id)

    def made(**changes):
        return {
            "log_id": str(uuid.uuid4()), "revision": revision, "day": "2026-03-02", "pain_before": 1, "pain_during": 2,
            "effort": 5, "rating": "about_right", "words": "",
            "items": [{"item_key": str(item.key), "done_left": 60, "done_right": 60} for item in items(3)],
        } | changes

    return made


def send(browser, sessions, **headers):
    return browser.post(URL, json.dumps({"sessions": sessions}), content_type="application/json", headers=headers)


def results(answer):
    assert answer.status_code == 200, answer.content
    return [row["result"] for row in answer.json()["results"]]


def test_one_bad_entry_of_forty_loses_nothing_else(ada, entry):
    batch = [entry() for _ in range(40)]
    batch[17]["pain_during"] = 11
    answer = send(ada, batch)
    assert results(answer) == ["stored"] * 17 + ["refused"] + ["stored"] * 22
    refused = answer.json()["results"][17]
    assert (refused["place"], refused["log_id"], refused["code"]) == (17, batch[17]["log_id"], "invalid")
    assert "pain_during" in refused["errors"]
    assert SessionLog.objects.count() == 39


def test_the_same_batch_five_times_is_one_set_of_sessions(ada, entry):
    batch = [entry() for _ in range(3)]
    assert [results(send(ada, batch)) for _ in range(5)] == [["stored"] * 3] + [["already"] * 3] * 4
    assert SessionLog.objects.count() == 3


def test_an_edit_may_arrive_before_what_it_edits(ada, entry, program):
    first = entry()
    second = {**first, "edit": 1, "pain_during": 7}
    assert results(send(ada, [second, first])) == ["edited", "stored"]
    assert DayRecord.objects.get(program=program, day="2026-03-02").pain == 7
    assert DayRecord.objects.get(program=program, day="2026-03-02").sessions_done == 1


@pytest.mark.parametrize(
    ("changes", "code", "where"),
    [
        ({"day": "2026-03-09"}, "clock_ahead", "day"),
        ({"day": "2026-02-01"}, "before_start", "day"),
        ({"day": "29.02.2027"}, "invalid", "day"),
        ({"effort": 10**30}, "invalid", "effort"),
        ({"edit": -1}, "invalid", "edit"),
        ({"rating": "fine"}, "invalid", "rating"),
        ({"words": "x" * 2001}, "invalid", "words"),
        ({"log_id": "seven"}, "invalid", "log_id"),
        ({"revision": str(uuid.UUID(int=9))}, "unknown_plan", None),
        ({"items": [{"item_key": str(uuid.UUID(int=9))}]}, "unknown_item", "items.0.item_key"),
        ({"items": [{"item_key": str(uuid.UUID(int=1)), "done_left": 36001}]}, "invalid", "items"),
        ({"items": [{"item_key": str(uuid.UUID(int=1))}] * 2}, "invalid", "items"),
    ],
)
def test_a_refused_entry_says_why_and_its_neighbour_is_stored(ada, entry, changes, code, where):
    answer = send(ada, [entry(**changes), entry()])
    assert results(answer) == ["refused", "stored"]
    refused = answer.json()["results"][0]
    assert refused["code"] == code
    assert refused["reason"]
    assert where is None or where in refused["errors"]


def test_a_thing_that_is_no_session_is_refused_by_itself(ada, entry):
    answer = send(ada, [None, 7, "x", [], {}, {"log_id": None}, entry()])
    assert results(answer) == ["refused"] * 6 + ["stored"]
    assert {row["log_id"] for row in answer.json()["results"][:6]} == {None}


def test_a_batch_that_is_none_is_refused_as_a_whole(ada):
    for body in ({}, {"sessions": []}, {"sessions": "x"}, {"sessions": [{}] * 101}, []):
        answer = ada.post(URL, json.dumps(body), content_type="application/json")
        assert (answer.status_code, answer["Content-Type"]) == (400, "application/problem+json"), body


def test_bo_cannot_hand_over_into_adas_program(cast, entry, browse):
    answer = send(browse(cast.bo.user), [entry()])
    assert results(answer) == ["refused"]
    assert answer.json()["results"][0]["code"] == "unknown_plan"
    assert SessionLog.objects.count() == 0


def test_sessions_of_two_programs_may_come_in_one_batch(ada, cast, entry, prescribe, now):
    episode = type(cast.ada_hip).objects.create(
        client=cast.ada, lead=cast.theo, region="neck", side="both", complaint="Neck", opened=now.date()
    )
    other = prescribe(episode=episode, title="Neck at home", count=1)
    theirs = entry(
        revision=str(newest_revision(other).public_id), items=[{"item_key": str(items(1)[0].key), "done_left": 60}]
    )
    assert results(send(ada, [entry(), theirs, entry()])) == ["stored"] * 3
    assert SessionLog.objects.filter(program=other).count() == 1


def test_a_repeated_key_gives_the_first_answer(ada, entry):
    batch = [entry()]
    first, second = (send(ada, batch, **{"Idempotency-Key": "abc"}) for _ in range(2))
    assert results(first) == results(second) == ["stored"]
    assert send(ada, [entry()], **{"Idempotency-Key": "abc"}).status_code == 422
    assert SessionLog.objects.count() == 1
