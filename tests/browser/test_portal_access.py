"""The portal by keyboard alone, and held against the rules of WCAG 2.2 that a machine can check, on every page."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment
from clinic.visits.actions.record_result import record_result
from clinic.visits.models import Measure
from programs.following.actions.log_session import log_session
from programs.following.models import SessionLog
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.portal.actions.make_token import make_token
from programs.prescribing.queries import newest_revision
from tests.browser.test_portal_offline import (  # noqa: F401  fixtures
    exercises,
    phone,
    program,
    server_clock,
    settle,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# the rules of the standard's levels A and AA, 2.0 to 2.2 (axe-core's tags)
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}}
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}


@pytest.fixture
def visit(cast, now):
    booked = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina,
        start=datetime(2026, 3, 10, 10, 0, tzinfo=UTC), now=now,
    )
    Appointment.objects.filter(pk=booked.pk).update(status="pending")
    return booked


@pytest.fixture
def yesterday(cast, program, now):   # noqa: F811
    """A session of yesterday, so that this morning asks for an answer."""
    revision = newest_revision(program)
    entry = SessionEntry(
        log_id=uuid.UUID(int=9), edit=0, revision=revision.public_id, day=now.date() - timedelta(days=1), started=None,
        pain_before=1, pain_during=6, effort=5, rating="about_right", words="",
        items=tuple(ItemEntry(item.key, 60, 60, None, "", "") for item in revision.items.all()),
    )
    return log_session(by=cast.ada.user, program=program, entry=entry, now=now)


@pytest.fixture
def extras(cast, now):
    """A measure taken twice, a token of Ada's own and one of the clinic's own portal."""
    measure = Measure.objects.create(
        code="pain-now", name="Pain", scoring="single", item_minimum=0, item_maximum=10, direction="lower", mdc=2, mcid=2,
        unit="points", source="invented",
    )
    for value in (7, 3):
        record_result(by=cast.mina.user, episode=cast.ada_hip, measure=measure, values=[value], side="none", now=now)
    make_token(by=cast.ada.user, label="Watch", scopes={"log"}, days=30, now=now)
    make_token(by=cast.lead.user, label="Front", scopes={"plan"}, days=30, now=now, site=cast.site)


def faults(page: Page) -> list[str]:
    """What the rules find in the light theme, and of contrast in the dark one."""
    found = []
    for scheme, options in (("light", RULES), ("dark", CONTRAST)):
        page.emulate_media(color_scheme=scheme)
        report = Axe().run(page, options=options)
        found += [
            f"{page.url} {scheme}: {fault['id']}: {node['target']} {node['failureSummary']}"
            for fault in report.response["violations"] for node in fault["nodes"]
        ]
    page.emulate_media(color_scheme="light")
    return found


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_page_has_a_fault_that_a_machine_finds(phone, program, visit, yesterday, cast, language, extras):   # noqa: F811
    cast.ada.language = language
    cast.ada.save()
    page = phone(cast.ada)
    settle(page)
    found = faults(page)
    visits = f"visits/{visit.public_id}/"
    for address in (
        "session/", f"session/saved/{program.public_id}/", "morning/", "weeks/", "visits/", f"{visits}cancel/",
        f"{visits}move/", f"{visits}confirm/", "help/", "help/stop/", "help/untold/", "messages/", "devices/",
        "notes/", "measures/", "access/", "passkeys/",
    ):
        page.goto(f"/portal/{address}")
        found += faults(page)
    page.goto("/portal/session/")
    page.locator("[data-begin]").click()
    found += faults(page)
    page.context.set_offline(True)
    page.goto("/portal/")
    page.locator("[data-open]").click()
    found += faults(page)
    assert found == []


SEEN = """() => {
    const here = document.activeElement;
    const shown = here.matches('.pick input') ? here.nextElementSibling : here;
    return getComputedStyle(shown).outlineStyle !== 'none' && parseFloat(getComputedStyle(shown).outlineWidth) >= 2;
}"""
NAME = """() => {
    const here = document.activeElement;
    return (here.labels && here.labels.length ? here.labels[0].innerText : here.innerText || here.name || '').trim();
}"""


def tab_to(page: Page, name: str, most: int = 60) -> int:
    """Press Tab until the thing of that name has the focus; each stop on the way must be seen. The number of presses."""
    for presses in range(1, most + 1):
        page.keyboard.press("Tab")
        assert page.evaluate(SEEN), f"no visible focus on {page.evaluate(NAME)!r}"
        if re.fullmatch(name, page.evaluate(NAME), re.DOTALL):
            return presses
    raise AssertionError(f"{name} is not reached within {most} presses")


def test_a_session_by_keyboard_alone(phone, program, cast):   # noqa: F811
    page = phone(cast.ada)
    settle(page)
    page.keyboard.press("Tab")
    assert page.evaluate(NAME) == "Skip to the content"
    page.keyboard.press("Enter")
    tab_to(page, "Start", most=5)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/portal/session/"))
    page.wait_for_selector("#kept[data-ready]", state="attached")
    tab_to(page, "Guide me through it", most=12)
    page.keyboard.press("Enter")
    tab_to(page, "Start", most=4)
    page.keyboard.press("Enter")
    page.clock.run_for(300_000)
    expect(page.get_by_role("button", name="I did it all. Next")).to_be_focused()
    page.keyboard.press("Enter")
    tab_to(page, "Skip this one", most=6)
    page.keyboard.press("Enter")
    tab_to(page, "It hurt", most=3)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="How was it?")).to_be_focused()
    tab_to(page, "0", most=2)
    page.keyboard.press("ArrowRight")   # pain before: 1
    page.keyboard.press("Tab")
    page.keyboard.press("Space")        # the worst: 0
    tab_to(page, "Save my session", most=8)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    log = SessionLog.objects.get()
    assert (log.pain_before, log.pain_during, log.effort) == (1, 0, None)


def test_the_way_out_is_reached_by_keyboard_from_every_page(phone, program, cast):   # noqa: F811
    page = phone(cast.ada)
    settle(page)
    for address in ("", "session/", "weeks/", "visits/", "morning/", "messages/", "devices/"):
        page.goto(f"/portal/{address}")
        tab_to(page, "Something is wrong", most=10)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/portal/help/"))
    tab_to(page, "Call 999 now if you are in danger", most=12)
    tab_to(page, "One calf is newly swollen.*", most=6)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Stop now")).to_be_visible()
