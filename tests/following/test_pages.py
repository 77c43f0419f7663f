"""What Mina, Lou and the desk see."""

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine

from programs.following.actions.raise_alert import raise_alert
from programs.following.models import SessionLog, Suggestion
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Revision
from tests.following.conftest import BRIDGE, ROLL, START, STRETCH, done, hip_plan

# after the first request, which renews the session
PAGE_QUERIES = {"suggestions": 6, "alerts": 4, "logs": 21}


@pytest.fixture(autouse=True)
def at_eleven(now):
    with time_machine.travel(now + timedelta(days=1, hours=2), tick=False):
        yield


@pytest.fixture
def strong(report):
    for day in range(2):
        report(day, items=done(reps=12), pain_during=1, words="Went <b>well</b>")
    return Suggestion.objects.get()


def three_suggestions(strong):
    for kind in ("contact", "reassess"):
        Suggestion.objects.create(
            program=strong.program, kind=kind, evidence={**strong.evidence, "change": {}}, rule_set=strong.rule_set,
            revision=strong.revision, made=strong.made,
        )


def test_a_suggestion_shows_its_evidence(cast, browse, strong):
    page = browse(cast.mina.user).get("/suggestions/").content.decode()
    assert "Bridge: one step harder" in page
    assert "From level 1 (1 to 2 sets of 8 to 10) to level 2 (1 to 2 sets of 6 to 8)." in page
    assert "12, then 12 repetitions in the last set, the goal was 10" in page
    assert "2 above the goal in 2 sessions in a row" in page
    assert "Essentials of Strength Training and Conditioning" in page
    assert "Mon 2 Mar, Tue 3 Mar" in page
    assert "a licensed clinician decides" in page
    assert 'style="' not in page


def test_the_list_takes_the_same_queries_for_one_and_three(cast, browse, strong, django_assert_num_queries):
    browser = browse(cast.mina.user)
    browser.get("/suggestions/")
    with django_assert_num_queries(PAGE_QUERIES["suggestions"]):
        assert browser.get("/suggestions/").content.decode().count('class="card suggestion"') == 1
    three_suggestions(strong)
    with django_assert_num_queries(PAGE_QUERIES["suggestions"]):
        assert browser.get("/suggestions/").content.decode().count('class="card suggestion"') == 3


def test_the_lead_reads_and_has_no_buttons(cast, browse, strong):
    page = browse(cast.lead.user).get("/suggestions/").content.decode()
    assert "Bridge: one step harder" in page
    assert "Accept" not in page


def test_another_clinician_sees_none_of_it(cast, browse, strong):
    assert "Nothing to decide" in browse(cast.theo.user).get("/suggestions/").content.decode()


def test_accepting_on_the_page(cast, browse, strong):
    answer = browse(cast.mina.user).post(f"/suggestions/{strong.public_id}/accept/", follow=True)
    assert "The program has a new revision from tomorrow." in answer.content.decode()
    assert Revision.objects.get(number=2).effective_from == START + timedelta(days=2)
    again = browse(cast.mina.user).post(f"/suggestions/{strong.public_id}/accept/")
    assert again.status_code == 409
    assert "no longer open: accepted" in again.content.decode()


def test_declining_without_a_reason_says_so_and_saves_nothing(cast, browse, strong):
    answer = browse(cast.mina.user).post(f"/suggestions/{strong.public_id}/decline/", {"reason": " "})
    assert answer.status_code == 400
    assert "Say in 1 to 300 characters why not." in answer.content.decode()
    strong.refresh_from_db()
    assert strong.state == "open"
    browse(cast.mina.user).post(f"/suggestions/{strong.public_id}/decline/", {"reason": "Technique first"})
    strong.refresh_from_db()
    assert strong.decision_reason == "Technique first"


@pytest.fixture
def raised(cast, program, now):
    return raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="saddle_numbness", now=now)


def test_the_desk_sees_who_when_and_the_phone_but_not_which_answer(cast, browse, raised):
    page = browse(cast.desk.user).get("/alerts/").content.decode()
    for shown in ("Ada Quill", "Mon 2 March, 09:00", "+447700900101", "Red-flag answer", "until a clinician closes it"):
        assert shown in page
    assert "numbness" not in page
    assert "Close the alert" not in page


def test_the_clinician_sees_which_answer_and_closes_it(cast, browse, raised):
    browser = browse(cast.mina.user)
    assert "New numbness between the legs" in browser.get("/alerts/").content.decode()
    assert browser.post(f"/alerts/{raised.public_id}/close/", {"note": ""}).status_code == 400
    page = browser.post(f"/alerts/{raised.public_id}/close/", {"note": "Sent in <now>"}, follow=True).content.decode()
    assert "Sent in &lt;now&gt;" in page
    assert "Closed" in page
    assert "Sent in" not in browse(cast.desk.user).get("/alerts/").content.decode()


def test_the_alerts_take_the_same_queries_for_one_and_three(cast, browse, raised, now, django_assert_num_queries):
    browser = browse(cast.desk.user)
    browser.get("/alerts/")
    with django_assert_num_queries(PAGE_QUERIES["alerts"]):
        assert browser.get("/alerts/").content.decode().count("Red-flag answer") == 1
    for _ in range(2):
        raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="chest_pain", now=now)
    with django_assert_num_queries(PAGE_QUERIES["alerts"]):
        assert browser.get("/alerts/").content.decode().count("Red-flag answer") == 3


def test_logs_and_days_side_by_side(cast, browse, program, strong):
    page = browse(cast.mina.user).get(f"/programs/{program.public_id}/logs/").content.decode()
    assert "Went &lt;b&gt;well&lt;/b&gt;" in page
    assert "Bridge: 80 s, 12 in the last set" in page
    assert "Hip stretch: left 60 s, right 60 s" in page
    assert "2 of 2" in page   # sessions, whole program
    assert "2 Mar to 3 Mar" in page   # the kick-off, by phase
    assert '<td class="num" data-label="Left / right">1.00' in page
    assert "No log is not the same as not done." in page


def test_the_logs_take_the_same_queries_for_one_and_three(cast, browse, program, report, django_assert_num_queries):
    report(0)
    browser = browse(cast.mina.user)
    browser.get(f"/programs/{program.public_id}/logs/")
    with django_assert_num_queries(PAGE_QUERIES["logs"]):
        assert browser.get(f"/programs/{program.public_id}/logs/").content.decode().count('class="log"') == 1
    report(0)
    report(1)
    with django_assert_num_queries(PAGE_QUERIES["logs"]):
        assert browser.get(f"/programs/{program.public_id}/logs/").content.decode().count('class="log"') == 3


def form_of(**changed):
    amounts = {f"item_{key.hex}": "minimum" for key in (BRIDGE, STRETCH, ROLL)}
    return {"log_id": str(uuid4()), "day": "2026-03-02", "pain_during": "2", **amounts, **changed}


def test_mina_logs_for_ada_once_however_often_she_sends_it(cast, browse, program):
    address = f"/programs/{program.public_id}/logs/"
    form = form_of(**{f"item_{BRIDGE.hex}": "full", f"item_{ROLL.hex}": "none"})
    for _ in range(2):
        assert browse(cast.mina.user).post(address, form).status_code == 302
    log = SessionLog.objects.get()
    assert (log.source, log.by, log.pain_during) == ("clinician", cast.mina.user, 2)
    amounts = {item.item_key: (item.done_left, item.done_right) for item in log.items.all()}
    assert amounts == {BRIDGE: (80, 0), STRETCH: (30, 30), ROLL: (0, 0)}


def test_a_day_that_cannot_be_is_said_beside_the_field(cast, browse, program):
    answer = browse(cast.mina.user).post(f"/programs/{program.public_id}/logs/", form_of(day="2026-03-09"))
    assert answer.status_code == 400
    assert "The session is dated 9 March 2026, but today is 3 March 2026." in answer.content.decode()
    assert not SessionLog.objects.exists()


def test_a_program_of_another_clinicians_client_is_not_there(cast, browse, program, now):
    other = prescribe_program(by=cast.theo.user, episode=cast.bo_neck, plan=hip_plan(), title="Neck", starts=START, now=now)
    assert browse(cast.mina.user).get(f"/programs/{other.public_id}/logs/").status_code == 404
    assert browse(cast.desk.user).get(f"/programs/{program.public_id}/logs/").status_code == 404


def test_the_clients_page_tells_how_it_goes_but_not_to_the_desk(cast, browse, program, strong):
    page = browse(cast.mina.user).get(f"/clients/{cast.ada.public_id}/").content.decode()
    assert "100 % in seven days; 2 of 2 sessions in all" in page
    assert "1 suggestion to decide" in page
    assert f"/programs/{program.public_id}/logs/" in page
    assert "How it goes at home" not in browse(cast.desk.user).get(f"/clients/{cast.ada.public_id}/").content.decode()
