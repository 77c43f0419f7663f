"""Every page of the portal in a browser: the rules of WCAG 2.2 that a machine can check, narrow, enlarged, with less motion.

Which pages there are comes from the access matrix, which names every route of the URL conf or fails: a new page is looked at
here without anybody's doing.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from clinic.visits.actions.record_result import record_result
from clinic.visits.models import Measure
from programs.following.actions.log_session import log_session
from programs.following.actions.raise_alert import raise_alert
from programs.following.actions.write_note import write_note
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.library.models import Level
from programs.portal.actions.make_token import make_token
from programs.prescribing.queries import newest_revision
from tests.access.matrix_portal import ROWS
from tests.access.roles import Row
from tests.browser.test_portal_offline import (  # noqa: F401  fixtures
    EXPECTED,
    PHONE,
    exercises,
    program,
    ready,
    server_clock,
    settle,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# the rules of the standard's levels A and AA, 2.0 to 2.2 (axe-core's tags)
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}}
ROUTES = [row for row in ROWS if row.method == "GET" and row.route.startswith("portal:")]
# answers that are no pages: a script, a description, files
FILES = {"portal:worker", "portal:manifest", "portal:handout", "portal:calendar"}
STAFF = {"portal:site_access"}
PAGES = [row for row in ROUTES if row.route not in FILES | STAFF]
STANDING: dict[str, Any] = {"body": {}, "right": {}, "left": {}}
LEG_UP = {"view": "side", "start": STANDING, "end": {**STANDING, "right": {"hip": 60}}}
MEANT = re.compile(EXPECTED.pattern + r"|status of 400 ")   # the page that says what is wrong with an answer


@pytest.fixture(params=["en", "es"])
def ada(request, cast, program, now):   # noqa: F811
    """Ada with something on each of her pages, in each language."""
    cast.ada.language = request.param
    cast.ada.save()
    Level.objects.update(drawing=LEG_UP)
    entry = SessionEntry(
        log_id=uuid.UUID(int=9), edit=0, revision=newest_revision(program).public_id, day=now.date() - timedelta(days=1),
        started=None, pain_before=1, pain_during=6, effort=5, rating="about_right", words="It pulled a little",
        items=tuple(ItemEntry(item.key, 60, 60, None, "", "") for item in newest_revision(program).items.all()),
    )
    log_session(by=cast.ada.user, program=program, entry=entry, now=now)
    for by, number in ((cast.mina.user, 1), (cast.ada.user, 2)):
        write_note(
            by=by, program=program, note_id=uuid.UUID(int=number), text="Keep it small", log_id=uuid.UUID(int=9),
            read_until=None, now=now,
        )
    measure = Measure.objects.create(
        code="pain-now", name="Pain", scoring="single", item_minimum=0, item_maximum=10, direction="lower", mdc=2, mcid=2,
        unit="points", source="invented",
    )
    for value in (7, 3):
        record_result(by=cast.mina.user, episode=cast.ada_hip, measure=measure, values=[value], side="none", now=now)
    make_token(by=cast.lead.user, label="Front", scopes={"plan"}, days=30, now=now, site=cast.site)
    return cast.ada


@pytest.fixture
def phone(chromium, live_server, now):
    """phone(client) -> a page of a phone on which they are signed in; it may see no error but those that are meant."""
    contexts, complaints = [], []

    def opened(client, **options) -> Page:
        # no worker, which would put the kept page in the place of one that is slow to come
        usual = {**PHONE, "service_workers": "block"}
        context = chromium.new_context(base_url=live_server.url, **{**usual, **options})
        context.base_url = live_server.url
        contexts.append(context)
        return ready(context, client, now, complaints)

    yield opened
    for context in contexts:
        context.close()
    assert [line for line in complaints if not MEANT.search(line)] == []


def opened(page: Page, cast) -> Iterator[str]:
    """Go to each page in turn, with the thing that it is about; its name."""
    made: dict[Any, dict[str, Any]] = {}
    for row in PAGES:
        page.goto(address(row, cast, made))
        assert page.evaluate("document.contentType") == "text/html", row.route
        assert page.locator("[data-pocket-page]").count() == (row.route == "portal:pocket"), row.route
        yield row.route
    yield from _moments(page)


def address(row: Row, cast, made: dict[Any, dict[str, Any]]) -> str:
    """Where a page is; the thing that it is about is made once for all that are about it."""
    if row.make not in made:
        made[row.make] = row.make(cast)
    return reverse(row.route, kwargs=made[row.make])


def _moments(page: Page) -> Iterator[str]:
    """What a page shows only after something was done on it."""
    page.goto("/portal/session/")
    page.locator("[data-begin]").click()
    page.locator("[data-skip-box] summary").click()
    yield "guided"
    page.locator("[data-run]").click()
    yield "the timer runs"
    page.goto("/portal/session/")
    page.locator("form[data-session] [type=submit]").click()
    yield "an answer is missing"
    with page.expect_navigation():
        page.locator("form[data-session]").evaluate("form => form.submit()")   # as without a script
    page.wait_for_selector("#problems")
    yield "what is wrong, told by the clinic"
    page.goto("/portal/calendar/")
    with page.expect_navigation():
        page.locator("main form [type=submit]").last.click()
    page.wait_for_selector(".secret")
    yield "an address that is shown once"
    page.goto("/portal/access/")
    with page.expect_navigation():
        page.locator("main form [type=submit]").last.click()
    yield "nothing was said for whom"


def faults(page: Page, name: str) -> list[str]:
    """What the rules find on the page as it stands, in the light theme and in the dark one."""
    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        report = Axe().run(page, options=RULES)
        found += [
            f"{name} {scheme}: {fault['id']}: {node['target']} {node['failureSummary']}"
            for fault in report.response["violations"] for node in fault["nodes"]
        ]
    page.emulate_media(color_scheme="light")
    return found


def test_files_are_the_only_answers_left_out(cast, browse):
    told, made = {}, {}
    for row in ROUTES:
        browser = browse(cast.lead.user if row.route in STAFF else cast.ada.user)
        told[row.route] = browser.get(address(row, cast, made))["Content-Type"].partition(";")[0]
    assert {route for route, kind in told.items() if kind != "text/html"} == FILES


def test_no_page_has_a_fault_that_a_machine_finds(phone, ada, cast):
    page = phone(ada)
    found = []
    for name in opened(page, cast):
        assert page.locator("html").get_attribute("lang") == ada.language
        found += faults(page, name)
    assert found == []


def test_nor_what_is_shown_without_signal(phone, ada):
    page = phone(ada, service_workers="allow")
    settle(page)
    page.context.set_offline(True)
    page.goto("/portal/")
    found = faults(page, "without signal")
    page.locator("[data-open]").click()
    found += faults(page, "a session without signal")
    for address in ("help/", "help/untold/"):
        page.goto(f"/portal/{address}")
        found += faults(page, f"{address} without signal")
    assert found == []


def test_nor_when_a_red_flag_is_open_or_there_is_no_program(phone, ada, cast, now):
    raise_alert(by=ada.user, client=ada, answer_id=uuid.uuid4(), flag="calf_swelling", now=now)
    cast.bo.language = ada.language
    cast.bo.save()
    found = []
    for client in (ada, cast.bo):
        page = phone(client)
        for address in ("", "weeks/", "notes/", "measures/", "visits/", "pocket/", "help/stop/"):
            page.goto(f"/portal/{address}")
            found += faults(page, address)
    assert found == []


def test_nor_the_page_of_the_clinics_own_portal(phone, cast):
    page = phone(cast.lead, viewport={"width": 1280, "height": 800})
    page.goto("/portal/clinic/access/")
    assert faults(page, "site_access") == []


# WCAG 2.2, 1.4.10 (reflow): 320 px wide, which is also 1280 px at 400 %, and then 200 px high
@pytest.mark.parametrize("size", [(320, 640), (320, 200)])
def test_nothing_is_wider_than_a_narrow_screen(phone, ada, cast, size):
    page = phone(ada)
    page.set_viewport_size({"width": size[0], "height": size[1]})
    over = {}
    for name in opened(page, cast):
        wide = page.evaluate(
            """() => [document.documentElement.scrollWidth, ...[...document.querySelectorAll("body *")].filter((one) => {
                const box = one.getBoundingClientRect();
                return box.width && box.right > innerWidth + 1 && !one.closest("svg, .hidden, .scroll");
            }).map((one) => one.outerHTML.slice(0, 90))]"""
        )
        if wide[0] > 320 or wide[1:]:
            over[name] = wide
    assert over == {}


def test_nothing_moves_where_less_motion_is_asked_for(phone, ada, cast):
    page = phone(ada, reduced_motion="reduce")
    for name in opened(page, cast):
        assert page.evaluate("document.getAnimations().length") == 0, name
        assert page.locator(".moving.playing").count() == 0, name
    page.goto("/portal/")
    drawing = page.locator(".moving").first
    still = drawing.locator("path[data-way]").first.get_attribute("d")
    drawing.get_by_role("button").click()   # whoever asks for the movement gets it
    page.clock.run_for(1500)
    assert drawing.locator("path[data-way]").first.get_attribute("d") != still


def test_a_drawing_moves_between_its_poses_and_back(phone, ada):
    page = phone(ada)
    page.goto("/portal/")
    drawing = page.locator(".moving").first
    drawing.scroll_into_view_if_needed()
    limb = drawing.locator("path[data-way]").first
    still = limb.get_attribute("d")
    expect(drawing).to_have_class(re.compile("playing"))   # once the browser has seen that it is on the screen
    seen = []
    for _ in range(25):   # there and back: 0.8 s at rest at either end, 1.7 s on each way
        page.clock.run_for(200)
        seen.append(limb.get_attribute("d"))
    assert len(set(seen)) >= 8   # many poses between the two
    ends = sorted(set(seen), key=seen.count)[-2:]   # it stays at either end
    assert still in ends
    assert min(map(seen.count, ends)) > 2
    drawing.get_by_role("button", name=re.compile("Stop the movement|Detener el movimiento")).click()
    expect(drawing).not_to_have_class(re.compile("playing"))
    begun = limb.get_attribute("d")
    page.clock.run_for(5000)
    assert limb.get_attribute("d") == begun


def test_printed_it_is_the_exercises_and_when_to_stop(phone, ada):
    page = phone(ada)
    page.goto("/portal/")
    page.emulate_media(media="print")
    for hidden in (".top", ".way-out", ".more-pages", ".stand .button", "#kept"):
        expect(page.locator(hidden).first).to_be_hidden()
    for shown in (".exercise .dose", ".exercise .side", ".exercise .feel", ".exercise .picture svg", ".stop-rules"):
        expect(page.locator(shown).first).to_be_visible()
    paper = page.pdf(format="A4")
    assert paper.startswith(b"%PDF-")
