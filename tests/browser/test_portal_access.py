"""The portal by keyboard alone, at the size of a phone: each stop is in sight, and the client's whole day is done with it."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, WorkingHours
from clinic.visits.actions.record_result import record_result
from clinic.visits.models import Measure
from programs.following.actions.log_session import log_session
from programs.following.actions.write_note import write_note
from programs.following.models import MorningAnswer, Note, SessionLog
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.portal.models import AccessToken, Device
from programs.prescribing.queries import newest_revision
from tests.browser.test_passkeys import with_authenticator
from tests.browser.test_portal_offline import (  # noqa: F401  fixtures
    exercises,
    phone,
    program,
    server_clock,
    settle,
    sign_in,
)
from tests.browser.test_portal_pages import PAGES, address

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


# WCAG 2.2, 2.4.7 (the focus is seen) and 2.4.11 (and nothing covers all of it)
SEEN = """() => {
    const here = document.activeElement;
    const shown = here.matches('.pick input') ? here.nextElementSibling : here;
    if (!here.matches(':focus') && here.matches('[type=time]')) return '';   // a part of the browser's own control
    const ring = getComputedStyle(shown);
    if (ring.outlineStyle === 'none' || parseFloat(ring.outlineWidth) < 2) return 'no ring';
    const box = shown.getBoundingClientRect();
    const spots = [0.1, 0.5, 0.9].flatMap((x) => [0.1, 0.5, 0.9].map((y) => [box.x + box.width * x, box.y + box.height * y]));
    const on = (top) => top && (here === top || shown.contains(top));
    const hit = ([x, y]) => on(document.elementFromPoint(x, y));
    return spots.some(hit) ? '' : 'covered or out of sight';
}"""
NAME = """() => {
    const here = document.activeElement;
    return (here.labels && here.labels.length ? here.labels[0].innerText : here.innerText || here.name || '').trim();
}"""


def tab_to(page: Page, name: str, most: int = 60) -> int:
    """Press Tab until the thing of that name has the focus; each stop on the way must be seen. The number of presses."""
    page.wait_for_load_state()
    for presses in range(1, most + 1):
        page.keyboard.press("Tab")
        fault = page.evaluate(SEEN)
        assert not fault, f"{fault}: {page.evaluate(NAME)!r} on {page.url}"
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
    page = phone(cast.ada, service_workers="block")
    made = {}
    for row in PAGES:
        if row.route not in {"portal:help", "portal:stop", "portal:untold"}:
            page.goto(address(row, cast, made))
            tab_to(page, "Something is wrong", most=12)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("/portal/help/"))
    tab_to(page, "Call 999 now if you are in danger", most=12)
    tab_to(page, "One calf is newly swollen.*", most=6)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Stop now")).to_be_visible()


def choose(page: Page, name: str, to: str = "", **most: int) -> None:
    """Tab to a thing and press Enter; `to` is the page where that leads."""
    tab_to(page, name, **most)
    page.keyboard.press("Enter")
    if to:
        expect(page).to_have_url(re.compile(f"/portal/{to}"))


@pytest.fixture
def day(cast, program, now):   # noqa: F811
    """What waits for Ada: a morning's question, a note, a measure, three visits, a second phone."""
    WorkingHours.objects.update(rule="FREQ=DAILY")
    revision = newest_revision(program)
    entry = SessionEntry(
        log_id=uuid.UUID(int=9), edit=0, revision=revision.public_id, day=now.date() - timedelta(days=1), started=None,
        pain_before=1, pain_during=2, effort=5, rating="about_right", words="",
        items=tuple(ItemEntry(item.key, 60, 60, None, "", "") for item in revision.items.all()),
    )
    log_session(by=cast.ada.user, program=program, entry=entry, now=now)
    write_note(by=cast.mina.user, program=program, note_id=uuid.UUID(int=1), text="How are the stairs?", now=now)
    measure = Measure.objects.create(
        code="pain-now", name="Pain", scoring="single", item_minimum=0, item_maximum=10, direction="lower", mdc=2, mcid=2,
        unit="points", source="invented",
    )
    record_result(by=cast.mina.user, episode=cast.ada_hip, measure=measure, values=[4], side="none", now=now)
    visits = [
        book_visit(
            by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina,
            start=datetime(2026, 3, day, 10, 0, tzinfo=UTC), now=now,
        )
        for day in (10, 11, 12)
    ]
    Appointment.objects.filter(pk=visits[0].pk).update(status="pending")
    return visits


def test_the_whole_day_of_a_client_by_keyboard_alone(phone, cast, day, program, chromium, live_server):   # noqa: F811
    first, second, third = day
    page = phone(cast.ada, service_workers="block")
    other = chromium.new_context(base_url=live_server.url)
    other.base_url = live_server.url
    sign_in(other, cast.ada)
    other.new_page().goto("/portal/")
    other.close()
    with_authenticator(page)
    page.goto("/portal/")

    choose(page, "Answer one question", to="morning/", most=14)
    tab_to(page, "0", most=14)
    page.keyboard.press("ArrowRight")
    choose(page, "Save", to="$", most=3)
    assert MorningAnswer.objects.get().pain == 1

    expect(page.get_by_text("How the morning felt, Monday 2 March")).to_be_visible()
    choose(page, "Read", to="notes/", most=14)
    tab_to(page, "Your note", most=14)
    page.keyboard.type("The stairs are easier now.")
    choose(page, "Send", most=2)
    expect(page.get_by_text("Sent. Your clinician sees it when they next look.")).to_be_visible()
    assert Note.objects.filter(by=cast.ada.user).get().words == "The stairs are easier now."

    choose(page, "My weeks", to="weeks/", most=8)
    expect(page.get_by_role("heading", name="Week by week")).to_be_visible()
    tab_to(page, r"Your program on paper \(PDF\)", most=16)
    choose(page, "My measures", to="measures/", most=3)
    expect(page.get_by_role("heading", name=re.compile("How much it hurts"))).to_be_visible()

    choose(page, "My visits", to="visits/", most=10)
    choose(page, "Say yes to this time", to="visits/.*/confirm/", most=14)
    choose(page, "Yes, I will come", to="visits/$", most=14)
    assert Appointment.objects.get(pk=first.pk).status == "booked"
    page.goto("/portal/visits/")
    tab_to(page, "I cannot come", most=16)                       # the first visit
    choose(page, "Move it", to="visits/.*/move/", most=3)                              # the second
    choose(page, ".* March, .*", to="visits/$", most=16)
    assert Appointment.objects.get(pk=second.pk).starts != second.starts
    page.goto(f"/portal/visits/{third.public_id}/cancel/")
    choose(page, "Yes, cancel it", to="visits/$", most=14)
    assert Appointment.objects.get(pk=third.pk).status == "cancelled"
    choose(page, "Book a visit", to="visits/new/", most=30)
    choose(page, ".* March, .*", to="visits/$", most=16)
    assert Appointment.objects.filter(client=cast.ada).count() == 4

    choose(page, "Show my visits in my own calendar", to="calendar/", most=40)
    choose(page, "Make an address", most=14)
    expect(page.get_by_text("Copy this address into your calendar now")).to_be_visible()
    tab_to(page, "http.*", most=14)                              # the address can be reached and copied
    choose(page, "End it.*", most=4)
    expect(page.get_by_text("None.", exact=True)).to_be_visible()

    page.goto("/portal/")
    choose(page, "Reminders", to="messages/", most=60)
    tab_to(page, "By text message", most=14)
    page.keyboard.press("Space")
    tab_to(page, "No messages from", most=3)
    page.keyboard.type("1030PM")
    tab_to(page, "Remind me on days with a session", most=6)
    choose(page, "Save", most=2)
    expect(page.get_by_role("status").or_(page.get_by_role("heading", name="Reminders")).first).to_be_visible()
    cast.ada.refresh_from_db()
    assert str(cast.ada.quiet_from)[:5] == "22:30"

    page.goto("/portal/")
    choose(page, "Where I am signed in", to="devices/", most=60)
    assert Device.objects.filter(user=cast.ada.user).count() == 2
    choose(page, "Sign this one out", most=14)
    expect(page.get_by_role("button", name="Sign this one out")).to_have_count(0)

    page.goto("/portal/")
    choose(page, "Sign in with this phone", to="passkeys/", most=60)
    choose(page, "Add a passkey", most=14)
    expect(page.get_by_text("The passkey is added.")).to_be_visible()
    choose(page, "Remove it", most=14)
    expect(page.get_by_text("The passkey is removed.")).to_be_visible()

    page.goto("/portal/")
    choose(page, "Other programs", to="access/", most=60)
    tab_to(page, "What is it for.*", most=14)
    page.keyboard.type("Watch")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    choose(page, "Make it", most=12)
    expect(page.get_by_text("Copy it now: it is not shown again.")).to_be_visible()
    choose(page, "End it.*", most=14)
    expect(page.get_by_role("button", name=re.compile("End it"))).to_have_count(0)
    assert AccessToken.objects.get().ended is not None
