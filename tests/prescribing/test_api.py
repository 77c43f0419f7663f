import json

import pytest
from django.utils import timezone

from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.models import Program
from programs.prescribing.rules.plan_json import plan_to_json

PROGRAMS = "/api/v1/programs"


@pytest.fixture
def today():
    return timezone.now().date()


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


@pytest.fixture
def running(cast, library, plan, today):
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip start", starts=today, now=timezone.now()
    )


def send(browser, address, body, **headers):
    return browser.post(address, json.dumps(body), content_type="application/json", headers=headers)


def asked(cast, plan, today, **other):
    return {
        "episode": str(cast.ada_hip.public_id), "title": "Hip start", "starts": today.isoformat(),
        "plan": plan_to_json(plan), **other,
    }


def changed(plan, today):
    body = plan_to_json(plan)
    body["items"][0]["level"] = 2
    return {"plan": body, "effective_from": today.isoformat(), "reason": "Ready for more."}


def test_a_program_is_given_and_read_with_its_etag(cast, library, mina, plan, today):
    answer = send(mina, PROGRAMS, asked(cast, plan, today))
    assert answer.status_code == 201
    assert (answer.json()["revision"], answer.json()["counting"]) == (1, 1)
    read = mina.get(f"{PROGRAMS}/{answer.json()['id']}")
    assert read.headers["ETag"] == '"1"'
    assert read.json()["plan"] == plan_to_json(plan)


def test_the_same_request_twice_gives_one_program(cast, library, mina, plan, today):
    keyed = {"Idempotency-Key": "one"}
    first, again = (send(mina, PROGRAMS, asked(cast, plan, today), **keyed) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json()["id"] == again.json()["id"]
    assert Program.objects.count() == 1


def test_a_template_can_be_named_instead_of_a_plan(cast, library, mina, plan, today):
    save_template(by=cast.mina.user, site=cast.site, name="Our hip", plan=plan, now=timezone.now())
    body = asked(cast, plan, today, template="our-hip")
    assert send(mina, PROGRAMS, body).status_code == 400
    del body["plan"]
    assert send(mina, PROGRAMS, body).status_code == 201


@pytest.mark.parametrize(
    ("part", "value", "path"),
    [
        ("plan", {"phases": [{"kind": "dance"}], "items": []}, "phases.0.kind"),
        ("plan", [], "plan"),
        ("starts", "2020-01-01", "starts"),
        ("starts", "soon", "starts"),
        ("title", "", "title"),
        ("episode", "x", "episode"),
    ],
)
def test_bad_input_is_named_by_its_path(cast, library, mina, plan, today, part, value, path):
    answer = send(mina, PROGRAMS, asked(cast, plan, today) | {part: value})
    assert answer.status_code == 400
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert path in answer.json()["errors"]
    assert Program.objects.count() == 0


def test_another_clinician_s_episode_is_not_there(cast, library, browse, plan, today):
    assert send(browse(cast.theo.user), PROGRAMS, asked(cast, plan, today)).status_code == 404


def test_a_change_needs_to_say_what_it_is_based_on(mina, running, plan, today):
    address = f"{PROGRAMS}/{running.public_id}/revisions"
    body = changed(plan, today)
    assert send(mina, address, body).status_code == 428
    for malformed in ("1", '"0"', "*", '"one"', '"1", "2"', '"123456"'):
        assert send(mina, address, body, **{"If-Match": malformed}).status_code == 400
    assert running.revisions.count() == 1
    answer = send(mina, address, body, **{"If-Match": '"1"'})
    assert (answer.status_code, answer.headers["ETag"]) == (201, '"2"')


def test_a_stale_change_gets_the_differences_and_loses_nothing(mina, running, plan, today):
    address = f"{PROGRAMS}/{running.public_id}/revisions"
    send(mina, address, changed(plan, today), **{"If-Match": '"1"'})
    answer = send(mina, address, changed(plan, today), **{"If-Match": 'W/"1"'})
    assert answer.status_code == 412
    assert answer.json()["differences"] == [{"code": "level", "where": "clamshell", "was": 1, "now": 2}]
    assert answer.json()["newest"] == 2
    assert running.revisions.count() == 2


def test_pause_resume_and_end(mina, running):
    address = f"{PROGRAMS}/{running.public_id}"
    assert send(mina, f"{address}/pause", {}).status_code == 400
    assert send(mina, f"{address}/pause", {"reason": "Flu"}).json()["status"] == "on-hold"
    assert send(mina, f"{address}/pause", {"reason": "Flu"}).status_code == 409
    assert send(mina, f"{address}/resume", {}).json()["status"] == "active"
    assert send(mina, f"{address}/end", {"status": "active"}).status_code == 400
    ended = send(mina, f"{address}/end", {"status": "completed"}).json()
    assert (ended["status"], len(ended["pauses"])) == ("completed", 1)


def test_the_lead_reads_and_does_not_write(cast, browse, running):
    lead = browse(cast.lead.user)
    assert lead.get(f"{PROGRAMS}/{running.public_id}").status_code == 200
    assert send(lead, f"{PROGRAMS}/{running.public_id}/end", {"status": "completed"}).status_code == 404


def test_lists_are_paged_and_take_the_same_queries_at_one_row_and_three(
    cast, library, mina, plan, today, django_assert_num_queries
):
    def give():
        program = prescribe_program(
            by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip", starts=today, now=timezone.now()
        )
        Program.objects.filter(pk=program.pk).update(status="completed")

    give()
    mina.get(PROGRAMS)
    with django_assert_num_queries(3):
        assert len(mina.get(PROGRAMS).json()["results"]) == 1
    give()
    give()
    with django_assert_num_queries(3):
        assert len(mina.get(f"{PROGRAMS}?page_size=3").json()["results"]) == 3
    for name in ("One", "Two", "Three"):
        save_template(by=cast.mina.user, site=cast.site, name=name, plan=plan, now=timezone.now())
    with django_assert_num_queries(3):
        assert [row["slug"] for row in mina.get("/api/v1/templates?page_size=2").json()["results"]] == ["three", "two"]
