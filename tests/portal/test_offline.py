"""What a phone keeps: the worker, the days ahead, and whose it is."""

import json
import re
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

from programs.following.actions.raise_alert import raise_alert
from programs.following.models import Alert, MorningAnswer, SessionLog
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.queries import newest_revision, plan_of

PLAN = "/api/v1/me/plan"


@pytest.fixture
def ada(cast, program, browse):
    return browse(cast.ada.user)


def test_the_worker_is_a_script_for_the_portal_alone_and_names_only_files_that_exist(browse):
    answer = browse().get("/portal/sw.js")
    assert answer["Content-Type"] == "text/javascript; charset=utf-8"
    assert answer["Service-Worker-Allowed"] == "/portal/"
    assert answer["Cache-Control"] == "no-cache"
    assert "default-src 'self'" in answer["Content-Security-Policy"]
    names = json.loads(re.match(r"self\.intervale = (.*);", answer.content.decode())[1])
    assert all(finders.find(name.removeprefix("/static/")) for name in names["shell"])
    assert names["scope"] == "/portal/"


def test_every_file_that_a_page_of_the_portal_loads_is_kept(ada, browse):
    script = browse().get("/portal/sw.js").content.decode()
    for address in ("", "session/", "pocket/", "morning/", "weeks/", "visits/", "help/"):
        page = ada.get(f"/portal/{address}").content.decode()
        for loaded in re.findall(r'(?:src|href)="(/static/[^"]+)"', page):
            assert f'"{loaded}"' in script, loaded


def test_the_page_that_is_kept_holds_no_name_address_or_birth_date(ada, cast):
    page = ada.get("/portal/pocket/").content.decode()
    for secret in ("Ada", "Quill", "ada@client", "1984", cast.ada.phone, "Stiff left hip", "Mina"):
        assert secret not in page, secret
    for needed in ("Half-kneeling lean", "A pinch in the back", "Keep it small", "tel:999", "<svg"):
        assert needed in page, needed


def test_the_kept_page_is_sent_again_only_when_it_says_something_else(ada, cast, program, now):
    first = ada.get("/portal/pocket/")
    assert ada.get("/portal/pocket/", headers={"If-None-Match": first["ETag"]}).status_code == 304
    revision = newest_revision(program)
    plan = plan_of(revision)
    revise_program(
        by=cast.mina.user, program=program, plan=type(plan)(plan.anchor, plan.phases, plan.items[:2]),
        effective_from=now.date() + timedelta(days=3), reason="Fewer", based_on=revision.number, now=now,
    )
    again = ada.get("/portal/pocket/", headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 200
    assert again.content.decode().count("<template data-revision=") == 2


def test_a_first_visit_is_small_on_the_wire(ada, browse):
    sizes = [
        len(ada.get(f"/portal/{address}", headers={"Accept-Encoding": "gzip"}).content)
        for address in ("", "pocket/", "help/", "help/untold/")
    ]
    names = json.loads(re.match(r"self\.intervale = (.*);", browse().get("/portal/sw.js").content.decode())[1])
    sizes += [Path(finders.find(name.removeprefix("/static/"))).stat().st_size for name in names["shell"]]
    assert sum(sizes) <= 120_000   # bytes, the files not even compressed


def test_a_weak_tag_counts_as_well(ada):
    tag = ada.get("/portal/pocket/", headers={"Accept-Encoding": "gzip"})["ETag"]
    assert tag.startswith('W/"')
    assert ada.get("/portal/pocket/", headers={"If-None-Match": tag}).status_code == 304


def test_the_plan_has_fourteen_days_with_phase_sessions_and_the_exercises_of_each_revision(ada, program):
    answer = ada.get(PLAN).json()
    held = answer["programs"][0]
    assert held["program"] == str(program.public_id)
    assert [day["day"] for day in held["days"]][0::13] == ["2026-03-02", "2026-03-15"]
    assert held["days"][0]["phase"]["sessions"] == {"minimum": 1, "full": 2}
    assert [row["revision"] for row in held["revisions"]] == [str(newest_revision(program).public_id)]
    assert len(held["revisions"][0]["items"]) == 3


def test_the_plan_knows_pauses_red_flags_and_its_etag(ada, cast, program, now):
    tag = ada.get(PLAN)["ETag"]
    assert ada.get(PLAN, headers={"If-None-Match": tag}).status_code == 304
    pause_program(by=cast.mina.user, program=program, reason="Holiday", now=now)
    assert {day["stand"] for day in ada.get(PLAN).json()["programs"][0]["days"]} == {"paused"}
    raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid.uuid4(), flag="calf_swelling", now=now)
    assert ada.get(PLAN, headers={"If-None-Match": tag}).json()["stopped"] is True


@pytest.mark.parametrize("days", ["0", "15", "-1", "1.5", "x", "", "9" * 30, "١"])
def test_an_unusable_number_of_days_is_refused(ada, days):
    answer = ada.get(PLAN, {"days": days})
    assert answer.status_code == 400
    assert answer.json()["errors"] == {"days": "The number of days is from 1 to 14."}
    assert len(ada.get(PLAN, {"days": "14"}).json()["programs"][0]["days"]) == 14


@pytest.mark.parametrize("count", [1, 3])
def test_the_plan_costs_the_same_for_one_exercise_and_three(cast, prescribe, browse, django_assert_num_queries, count):
    prescribe(count=count)
    browser = browse(cast.ada.user)
    with django_assert_num_queries(9):
        browser.get(PLAN)


def test_what_was_kept_for_ada_is_not_taken_from_bo(cast, program, browse):
    revision = str(newest_revision(program).public_id)
    entry = {"log_id": str(uuid.uuid4()), "revision": revision, "day": "2026-03-02", "items": []}
    morning = {"answer_id": str(uuid.uuid4()), "program": str(program.public_id), "day": "2026-03-02", "pain": 1}
    flag = {"answer_id": str(uuid.uuid4()), "flag": "calf_swelling"}
    whose = {"Intervale-Person": str(cast.ada.public_id)}
    bodies = {"sessions": {"sessions": [entry]}, "mornings": morning, "alerts": flag}
    for name, body in bodies.items():
        sent = [
            browse(user).post(f"/api/v1/me/{name}", json.dumps(body), content_type="application/json", headers=whose)
            for user in (cast.bo.user, cast.ada.user)
        ]
        assert [answer.status_code for answer in sent] == [409, 200], name
        assert sent[0].json()["title"] == "other_person"
    assert [model.objects.count() for model in (SessionLog, MorningAnswer, Alert)] == [1, 1, 1]


def test_signing_out_tells_the_browser_to_forget(ada):
    assert ada.post("/account/logout/", {"nothing_kept": "1"})["Clear-Site-Data"] == '"cache", "storage"'


def test_signing_out_with_something_unsent_leaves_the_storage(ada):
    assert ada.post("/account/logout/")["Clear-Site-Data"] == '"cache"'
