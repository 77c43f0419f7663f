"""A phone without signal: nothing that was saved is lost, nothing counts twice, nothing goes out under another name."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta

import pytest
import time_machine
from django.contrib.sessions.models import Session
from django.test import Client as Browser
from playwright.sync_api import Page, expect

from programs.following.models import Alert, ItemLog, SessionLog
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.queries import newest_revision
from programs.prescribing.rules.plan import Plan
from tests.browser.conftest import ARGUMENTS, chromium_path
from tests.portal.conftest import PHASES, STARTS, exercises, items  # noqa: F401  a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE = {"viewport": {"width": 390, "height": 780}, "has_touch": True}
WEEKS_ON = 2_000_000_000   # seconds since 1970: a client stays signed in for weeks
# no signal, and the refusals these tests are about
EXPECTED = re.compile(r"ERR_INTERNET_DISCONNECTED|ERR_FAILED|status of (401|403|409) ")
LEAN = str(uuid.UUID(int=1))


@pytest.fixture(autouse=True)
def server_clock(now):
    with time_machine.travel(now, tick=True) as clock:
        yield clock


def give(episode, now, count=2):
    return prescribe_program(
        by=episode.lead.user, episode=episode, plan=Plan(STARTS, PHASES, items(count)), title="Hip at home", starts=STARTS,
        now=now,
    )


@pytest.fixture
def program(cast, exercises, now):   # noqa: F811
    return give(cast.ada_hip, now)


def sign_in(context, client) -> None:
    browser = Browser()
    browser.force_login(client.user)
    value = browser.cookies["session"].value
    context.add_cookies([{"name": "session", "value": value, "url": context.base_url, "expires": WEEKS_ON}])


@pytest.fixture
def phone(chromium, live_server, now):
    """phone(client) -> a page of a phone on which they are signed in; the page's clock stands where the server's does."""
    contexts, complaints = [], []

    def opened(client, **options) -> Page:
        context = chromium.new_context(base_url=live_server.url, **PHONE, **options)
        context.base_url = live_server.url
        contexts.append(context)
        return ready(context, client, now, complaints)

    yield opened
    for context in contexts:
        context.close()
    assert [line for line in complaints if not EXPECTED.search(line)] == []


def ready(context, client, now, complaints) -> Page:
    context.set_default_timeout(10_000)
    if client is not None:
        sign_in(context, client)
    page = context.new_page()
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.clock.install(time=now)
    return page


def settle(page: Page, address: str = "/portal/") -> None:
    """Open a page and wait until the phone keeps everything it needs."""
    page.goto(address)
    page.wait_for_selector("#kept[data-ready]", state="attached")
    assert page.locator("#kept").get_attribute("data-ready") == "1"


def answer(page: Page, *, pain: str = "1") -> None:
    for exercise in page.locator("[data-exercise]").all():
        exercise.get_by_role("radio", name="All of it").check(force=True)
    group = page.get_by_role("group", name=re.compile("Worst pain"))
    group.get_by_role("radio", name=pain, exact=True).check(force=True)


def save_offline(page: Page, **said: str) -> None:
    """Open the portal without signal and save a session."""
    page.goto("/portal/")
    page.get_by_role("button", name="Open my session").click()
    answer(page, **said)
    page.get_by_role("button", name="Save my session").click()
    expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()


def states(page: Page) -> list[str]:
    return page.locator("[data-list] li").evaluate_all("rows => rows.map(row => row.dataset.state)")


def test_a_guided_session_by_the_clock(phone, program, cast):
    page = phone(cast.ada)
    settle(page, "/portal/session/")
    page.get_by_role("button", name="Guide me through it").click()
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator("[data-says]")).to_have_text("Left side, go, 1 of 3")
    page.clock.run_for(31_000)
    expect(page.locator("[data-says]")).to_have_text("Rest")
    page.get_by_role("button", name="Pause").click()
    page.clock.run_for(60_000)
    expect(page.locator("[data-says]")).to_have_text("Rest")
    page.get_by_role("button", name="Go on").click()
    page.clock.run_for(230_000)
    expect(page.locator("[data-says]")).to_have_text("Done. Well done.")
    page.get_by_role("button", name="I did it all. Next").click()
    page.get_by_role("button", name="Sound").click()
    expect(page.get_by_role("button", name="Sound")).to_have_attribute("aria-pressed", "false")
    page.get_by_role("button", name="Start", exact=True).click()
    page.clock.run_for(7_000)
    expect(page.locator("[data-pace]")).to_have_text("3 of 10")   # three seconds each
    page.get_by_text("Skip this one").click()
    page.get_by_role("button", name="It hurt").click()
    expect(page.get_by_role("heading", name="How was it?")).to_be_focused()
    page.get_by_role("button", name="Save my session").click()
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    done = {str(row.item_key): (row.done_left, row.done_right, row.skipped) for row in ItemLog.objects.all()}
    # the lean: three holds of 30 s and two rests of 10 a side, as the form without a script counts it
    assert done == {LEAN: (110, 110, ""), str(uuid.UUID(int=2)): (0, 0, "pain")}
    assert SessionLog.objects.get().started is not None


def test_three_sessions_survive_a_restart_and_arrive_once(chromium, program, cast, live_server, now, tmp_path):
    complaints: list[str] = []

    def started(client=None):
        context = chromium.browser_type.launch_persistent_context(
            str(tmp_path), executable_path=chromium_path(), args=ARGUMENTS, base_url=live_server.url, **PHONE
        )
        context.base_url = live_server.url
        return context, ready(context, client, now, complaints)

    context, page = started(cast.ada)
    settle(page)
    context.set_offline(True)
    for pain in ("1", "2", "3"):
        save_offline(page, pain=pain)
    assert states(page) == ["waiting"] * 3
    assert SessionLog.objects.count() == 0
    context.close()

    context, page = started()   # with signal: the page or the worker in the background sends them, whoever is first
    settle(page)
    expect(page.locator('[data-list] li[data-state="sent"]')).to_have_count(3)
    assert sorted(SessionLog.objects.values_list("pain_during", flat=True)) == [1, 2, 3]
    page.reload()
    page.wait_for_selector("#kept[data-ready]", state="attached")
    assert SessionLog.objects.count() == 3
    context.close()


def test_sent_twice_and_out_of_order_it_counts_once(phone, program, cast):
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    save_offline(page, pain="1")
    save_offline(page, pain="2")
    kept = page.evaluate("intervaleQueue.all(intervaleKept.person)")
    page.context.set_offline(False)
    expect(page.locator('[data-list] li[data-state="sent"]')).to_have_count(2)
    page.evaluate(
        """async (rows) => {
            for (const row of rows.reverse()) await intervaleQueue.again({...row, made: row.made * -1});
            await Promise.all([intervaleKept.send(), intervaleKept.send()]);
        }""",
        kept,
    )
    assert states(page) == ["sent", "sent"]
    assert sorted(SessionLog.objects.values_list("pain_during", flat=True)) == [1, 2]


def test_a_session_that_ended_meanwhile_keeps_what_was_saved(phone, program, cast):
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    save_offline(page)
    Session.objects.all().delete()
    page.context.set_offline(False)
    expect(page.get_by_text("Please sign in again.")).to_be_visible()
    assert states(page) == ["waiting"]
    # what was kept to read is gone
    assert page.evaluate("caches.open('pages').then(pages => pages.keys()).then(keys => keys.length)") == 0
    assert SessionLog.objects.count() == 0
    sign_in(page.context, cast.ada)
    settle(page)
    assert states(page) == ["sent"]
    assert SessionLog.objects.count() == 1


def test_a_second_person_on_the_phone_sends_nothing_of_the_first(phone, program, cast, now):
    theirs = give(cast.bo_neck, now)
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    save_offline(page)
    page.context.clear_cookies()
    sign_in(page.context, cast.bo)
    page.context.set_offline(False)
    # Ada's page, still open, tries under Bo's session
    page.wait_for_function("intervaleKept.send().then(stop => stop === 'other_person' || stop === 'signed_out')")
    settle(page)
    assert states(page) == []
    expect(page.get_by_text("This phone also keeps something for somebody else.")).to_be_visible()
    page.context.set_offline(True)
    page.goto("/portal/session/")
    shown = page.locator("template[data-revision]").evaluate_all("all => all.map(one => one.dataset.revision)")
    assert shown == [str(newest_revision(theirs).public_id)]
    assert SessionLog.objects.count() == 0
    page.context.set_offline(False)
    sign_in(page.context, cast.ada)
    settle(page)
    assert states(page) == ["sent"]
    assert SessionLog.objects.get().program == program


FULL = """
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (row) {
    if (row.kind) throw new DOMException('full', 'QuotaExceededError');
    return put.apply(this, arguments);
  };
"""


def test_a_full_phone_says_so_before_the_form_is_left(phone, program, cast):
    page = phone(cast.ada)
    page.add_init_script(FULL)
    settle(page)
    page.context.set_offline(True)
    page.goto("/portal/")
    page.get_by_role("button", name="Open my session").click()
    answer(page, pain="4")
    page.get_by_role("button", name="Save my session").click()
    expect(page.get_by_text("This phone has no room left")).to_be_visible()
    pain = page.get_by_role("group", name=re.compile("Worst pain"))
    expect(pain.get_by_role("radio", name="4", exact=True)).to_be_checked()
    page.context.set_offline(False)
    page.get_by_role("button", name="Save my session").click()   # with signal it goes straight to the clinic
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    assert SessionLog.objects.get().pain_during == 4


def test_a_refused_one_says_why_and_costs_no_other(phone, program, cast, server_clock):
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    page.clock.set_fixed_time(page.evaluate("Date.now()") / 1000 + timedelta(days=9).total_seconds())   # a wrong clock
    save_offline(page, pain="1")
    page.clock.set_fixed_time(page.evaluate("Date.now()") / 1000 - timedelta(days=9).total_seconds())
    save_offline(page, pain="2")
    page.context.set_offline(False)
    expect(page.locator('[data-list] li[data-state="sent"]')).to_have_count(1)
    refused = page.locator('[data-list] li[data-state="refused"]')
    expect(refused).to_contain_text("Not taken")
    expect(refused).to_contain_text("Check the date on the phone.")
    assert SessionLog.objects.get().pain_during == 2
    server_clock.shift(timedelta(days=9))
    Session.objects.update(expire_date=Session.objects.first().expire_date + timedelta(days=30))
    refused.get_by_role("button", name="Send it again").click()
    expect(page.locator('[data-list] li[data-state="sent"]')).to_have_count(2)
    assert SessionLog.objects.count() == 2


def test_a_red_flag_without_signal_shows_the_stop_screen_and_is_told_later(phone, program, cast):
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    page.goto("/portal/help/")
    page.get_by_role("button", name=re.compile("One calf is newly swollen")).click()
    expect(page.get_by_role("heading", name="Stop now")).to_be_visible()
    expect(page.get_by_text("We could not tell the clinic for you.")).to_be_visible()
    expect(page.get_by_role("link", name="Call 999 now")).to_be_visible()
    page.context.set_offline(False)
    expect(page.locator('[data-list] li[data-state="sent"]')).to_have_count(1)
    assert Alert.objects.get().flag == "calf_swelling"


def test_signing_out_leaves_nothing_to_read_and_warns_of_what_waits(phone, program, cast):
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    page.goto("/portal/")
    page.get_by_role("button", name="Open my session").click()
    answer(page)
    page.get_by_label("Anything to tell your clinician?").fill("Mine alone")
    page.get_by_role("button", name="Save my session").click()
    expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
    page.get_by_role("button", name="Sign out").first.click()
    expect(page.get_by_text("Not everything is sent yet.")).to_be_visible()
    page.get_by_role("button", name="Stay signed in").click()
    page.context.set_offline(False)
    expect(page.locator('[data-list] li[data-state="sent"]')).to_have_count(1)
    kept = page.evaluate("intervaleQueue.all(intervaleKept.person)")
    assert [(row["words"], row["body"]) for row in kept] == [("", None)]
    assert SessionLog.objects.get().words == "Mine alone"
    with page.expect_navigation(url=lambda url: "/portal/" not in url):
        page.get_by_role("button", name="Sign out").first.click()
    assert page.evaluate("caches.keys()") == []
    assert page.evaluate("indexedDB.databases().then(all => all.length)") == 0
