"""The dashboards in a real browser: decide where it is read, see what changed where it stands, keep the rules of WCAG 2.2."""

import re
from pathlib import Path

import pytest
from django.test import Client as Browser
from django.utils import timezone
from playwright.sync_api import expect

from clinic.people.models import Client
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import Suggestion
from tests.browser.test_portal_pages import faults
from tests.following.conftest import program, report, shelf  # noqa: F401  fixtures

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PAGES = (
    "/caseload/", "/practice/adherence/", "/practice/dose/", "/practice/overdue/", "/practice/progression/",
    "/practice/course/", "/practice/outcomes/", "/practice/no-shows/", "/practice/hours/",
)


@pytest.fixture
def staff(person, live_server, settings):
    """staff(user) -> a browser's page of that user's, signed in."""

    def opened(user):
        held = Browser()
        held.force_login(user)
        page = person()
        name = settings.SESSION_COOKIE_NAME
        page.context.add_cookies([{"name": name, "value": held.cookies[name].value, "url": live_server.url}])
        return page

    return opened


@pytest.fixture
def silent(program):   # noqa: F811
    follow_programs(now=timezone.now())
    return program


def test_an_open_caseload_takes_a_decision_and_what_changed_without_being_loaded_again(cast, silent, staff):
    page = staff(cast.mina.user)
    page.goto("/caseload/")
    page.evaluate("window.same = true")
    page.get_by_role("button", name="Accept").first.click()
    expect(page.locator("#main .notices")).to_contain_text("Noted")
    assert Suggestion.objects.get(kind="contact").state == "accepted"
    assert page.evaluate("document.activeElement.textContent") == "Ada Quill"
    Client.objects.filter(pk=cast.ada.pk).update(family_name="Quillon")
    page.evaluate("document.activeElement.blur(); document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.get_by_role("link", name="Ada Quillon", exact=True)).to_be_visible()
    assert page.evaluate("window.same")


def test_every_dashboard_keeps_the_rules_in_light_and_dark(cast, silent, staff):
    page = staff(cast.lead.user)
    found = {}
    for address in PAGES:
        page.goto(address)
        page.wait_for_load_state("networkidle")
        found[address] = faults(page, address)
    assert found == {address: [] for address in PAGES}


@pytest.mark.parametrize("form", ["SVG", "PNG"])
def test_a_chart_is_saved_as_a_picture_with_its_finding_and_breaks_no_policy(cast, silent, staff, form):
    page, said = staff(cast.lead.user), []
    page.on("console", lambda message: said.append(message.text))
    page.goto("/practice/adherence/")
    card = page.locator("figure.chart").first
    with page.expect_download() as taken:
        card.get_by_role("button", name=f"{form} picture of this chart").click()
    data = Path(taken.value.path()).read_bytes()
    assert taken.value.suggested_filename == f"phases.{form.lower()}"
    if form == "SVG":
        assert data.startswith(b"<svg")
        assert card.locator("h2").inner_text().split()[0] in data.decode()
    else:
        assert data.startswith(b"\x89PNG")
    assert [text for text in said if "Content Security Policy" in text] == []


@pytest.mark.parametrize("address", PAGES[1:])
def test_the_keyboard_reaches_every_table_below_a_chart_and_scrolls_it(cast, silent, staff, address):
    page = staff(cast.lead.user)
    page.set_viewport_size({"width": 390, "height": 700})
    page.goto(address)
    page.wait_for_load_state("networkidle")
    hidden = page.evaluate("""() => [...document.querySelectorAll(".twin")].map((twin, place) => {
        twin.dataset.place = place;
        if (getComputedStyle(twin).overflowX === "visible") return null;
        return twin.scrollWidth > twin.clientWidth + 1 || twin.scrollHeight > twin.clientHeight + 1 ? place : null;
    }).filter((place) => place !== null)""")
    charts = page.locator("figure.chart").count()
    assert page.locator("figure.chart ~ .twin, figure.chart ~ .empty").count() >= min(charts, 1)
    reached = set()
    for _ in range(150):
        page.keyboard.press("Tab")
        place = page.evaluate("document.activeElement.dataset.place")
        if place is not None:
            reached.add(int(place))
            before = page.evaluate("[document.activeElement.scrollLeft, document.activeElement.scrollTop]")
            page.keyboard.press("ArrowRight")
            page.keyboard.press("ArrowDown")
            page.wait_for_function(
                "([left, top]) => document.activeElement.scrollLeft > left || document.activeElement.scrollTop > top "
                "|| document.activeElement.scrollWidth <= document.activeElement.clientWidth + 1", arg=before,
            )
    assert set(hidden) <= reached


def test_a_tick_stays_when_the_open_page_takes_in_what_changed(cast, silent, staff):
    follow_programs(now=timezone.now())
    page = staff(cast.mina.user)
    page.goto("/practice/overdue/")
    box = page.get_by_role("checkbox", name=re.compile("with others.*Ada Quill$")).first
    box.check()
    page.evaluate("document.activeElement.blur()")
    Client.objects.filter(pk=cast.ada.pk).update(family_name="Quillon")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.get_by_role("link", name="Ada Quillon", exact=True).first).to_be_visible()
    assert page.get_by_role("checkbox", name=re.compile("with others.*Ada Quillon$")).first.is_checked()
