"""The session page: the form works by itself, counts once, and keeps what was typed."""

import re
import uuid
from datetime import timedelta

import pytest

from programs.following.models import DayRecord, ItemLog, SessionLog
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.queries import newest_revision, plan_of
from tests.portal.conftest import items

LEAN, LIFT, ROLLING = (str(item.key) for item in items(3))


@pytest.fixture
def browser(cast, program, browse):
    return browse(cast.ada.user)


@pytest.fixture
def answers(program):
    """A full set of answers as the form would send them; answers(name=value) changes some."""
    first = {
        "log_id": str(uuid.UUID(int=77)), "revision": str(newest_revision(program).public_id), "day": "2026-03-02",
        "started": "", "pain_before": "2", "pain_during": "4", "effort": "6", "rating": "about_right",
        "words": "Went well", f"{LEAN}-done": "full", f"{LIFT}-done": "partly", f"{ROLLING}-done": "not",
        f"{ROLLING}-skipped": "no_time",
    }
    return lambda **changes: first | {name.replace("__", "-"): value for name, value in changes.items()}


def test_the_form_carries_a_new_number_and_the_revision_that_is_shown(browser, program):
    first, second = (browser.get("/portal/session/").context["form"] for _ in range(2))
    assert first.initial["log_id"] != second.initial["log_id"]
    assert first.initial["revision"] == newest_revision(program).public_id
    assert first.initial["day"] == "2026-03-02"


def test_saving_writes_the_session_and_says_what_it_did_to_the_week(browser, answers, program):
    answer = browser.post("/portal/session/", answers(), follow=True)
    assert answer.redirect_chain == [(f"/portal/session/saved/{program.public_id}/", 302)]
    log = SessionLog.objects.get()
    assert (log.pain_before, log.pain_during, log.effort, log.rating, log.words) == (2, 4, 6, "about_right", "Went well")
    assert (str(log.day), log.source, log.edit, log.older_plan) == ("2026-03-02", "portal", 0, False)
    done = {str(row.item_key): (row.done_left, row.done_right, row.skipped) for row in ItemLog.objects.all()}
    # the lean: 3 x 30 s and two rests of 10 a side; the lift: half of 2 x 10 x 3 s and a rest of 30; the roll was left out
    assert done == {LEAN: (110, 110, ""), LIFT: (45, 0, ""), ROLLING: (0, 0, "no_time")}
    page = " ".join(answer.content.decode().split())
    assert "Today: <strong>1 of 1 to 2</strong>" in page
    assert "This week so far you did something on <strong>1 day</strong>; 1 was asked." in page
    assert DayRecord.objects.get(program=program, day="2026-03-02").sessions_done == 1


def test_sent_twice_it_counts_once(browser, answers, program):
    browser.post("/portal/session/", answers())
    again = browser.post("/portal/session/", answers(), follow=True)
    assert "We had this session already. It counts once." in again.content.decode()
    assert SessionLog.objects.count() == 1
    assert DayRecord.objects.get(program=program, day="2026-03-02").sessions_done == 1


def test_a_second_session_is_a_second_one(browser, answers, program):
    browser.post("/portal/session/", answers())
    browser.post("/portal/session/", answers(log_id=str(uuid.uuid4())))
    assert DayRecord.objects.get(program=program, day="2026-03-02").sessions_done == 2
    page = " ".join(browser.get("/portal/").content.decode().split())
    assert "2 of 1 to 2" in page
    assert "All done for today" in page


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("pain_during", "11", "Choose a number from 0 to 10."),
        ("pain_before", "-1", "Choose a number from 0 to 10."),
        ("effort", "lots", "Choose a number from 0 to 10."),
        ("rating", "fine", "Choose one of the answers."),
        ("day", "2026-02-20", "Choose one of the last seven days."),
        ("words", "x" * 2001, "Your words can have 2000 letters at most."),
        (f"{LEAN}-done", "", "Say how much you did of this one."),
        (f"{LEAN}-left", "7201", "Seconds are a whole number from 0 to 7200."),
        (f"{LEAN}-left", "-1", "Seconds are a whole number from 0 to 7200."),
        (f"{LEAN}-right", "1e9", "Seconds are a whole number from 0 to 7200."),
        (f"{ROLLING}-skipped", "", "Choose a reason."),
    ],
)
def test_a_bad_value_is_named_and_everything_typed_is_kept(browser, answers, name, value, sentence):
    answer = browser.post("/portal/session/", answers() | {name: value})
    page = answer.content.decode()
    assert answer.status_code == 400
    assert sentence in page
    assert "What you typed is kept." in page
    assert SessionLog.objects.count() == 0
    assert f'value="{uuid.UUID(int=77)}"' in page                      # the same number, so that a resend is the same session
    assert page.count("checked") >= 4
    if name != "words":
        assert "Went well</textarea>" in page


def test_counted_seconds_win_over_the_half(browser, answers):
    browser.post("/portal/session/", answers() | {f"{LEAN}-done": "partly", f"{LEAN}-left": "50", f"{LEAN}-right": "20"})
    row = ItemLog.objects.get(item_key=LEAN)
    assert (row.done_left, row.done_right) == (50, 20)


def test_much_pain_gets_a_word_of_care(browser, answers):
    assert "went above 5" not in browser.post("/portal/session/", answers(pain_during="5"), follow=True).content.decode()
    hurt = answers(pain_during="6", log_id=str(uuid.uuid4()))
    assert "Your pain went above 5 out of 10." in browser.post("/portal/session/", hurt, follow=True).content.decode()


def test_yesterdays_session_can_be_told_today(browser, answers):
    browser.post("/portal/session/", answers(day="2026-03-01"))
    assert str(SessionLog.objects.get().day) == "2026-03-01"


def test_a_page_left_open_over_midnight_keeps_its_day(browser, answers, clock, now):
    clock.move_to(now + timedelta(hours=16))
    assert browser.post("/portal/session/", answers()).status_code == 302
    assert str(SessionLog.objects.get().day) == "2026-03-02"


def test_a_page_opened_before_a_change_is_kept_as_the_older_plan(browser, answers, cast, program, now):
    newest = newest_revision(program)
    plan = plan_of(newest)
    revise_program(
        by=cast.mina.user, program=program, plan=type(plan)(plan.anchor, plan.phases, plan.items[:1]),
        effective_from=now.date(), reason="Fewer", based_on=newest.number, now=now,
    )
    assert browser.post("/portal/session/", answers()).status_code == 302
    assert SessionLog.objects.get().older_plan
    assert ItemLog.objects.count() == 3


def test_bo_cannot_log_into_adas_program(cast, answers, browse):
    assert browse(cast.bo.user).post("/portal/session/", answers()).status_code == 404
    assert SessionLog.objects.count() == 0


@pytest.mark.parametrize("revision", ["", "nonsense", "00000000-0000-4000-8000-000000000000"])
def test_an_unknown_revision_is_not_there(browser, answers, revision):
    assert browser.post("/portal/session/", answers(revision=revision)).status_code == 404


def test_a_session_number_of_somebody_else_is_refused_and_nothing_is_lost(browser, answers, cast, prescribe, browse, now):
    theirs = prescribe(episode=cast.bo_neck)
    data = answers(revision=str(newest_revision(theirs).public_id))
    assert browse(cast.bo.user).post("/portal/session/", data).status_code == 302
    answer = browser.post("/portal/session/", answers())
    assert answer.status_code == 400
    assert "Went well</textarea>" in answer.content.decode()


def test_the_timer_finds_its_steps_and_no_script_is_inline(browser):
    page = browser.get("/portal/session/").content.decode()
    assert page.count("data-steps=") == 3
    assert "&quot;kind&quot;:&quot;work&quot;" in page
    assert '<script src="/static/portal/session.js" defer></script>' in page
    own = re.findall(r"<script src=\"/static/(?:portal|library)/\w+\.js\" defer></script>", page)
    assert len(own) == page.count("<script") == 5
    assert "style=" not in page
    assert "onclick" not in page


def test_when_nothing_is_asked_there_is_no_session(cast, browse):
    assert browse(cast.ada.user).get("/portal/session/").url == "/portal/"
