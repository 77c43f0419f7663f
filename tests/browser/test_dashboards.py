"""The dashboards in a real browser: decide where it is read, see what changed where it stands, keep the rules of WCAG 2.2."""

import pytest
from django.test import Client as Browser
from django.utils import timezone
from playwright.sync_api import expect

from clinic.people.models import Client
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import Suggestion
from tests.browser.test_portal_access import faults
from tests.following.conftest import program, report, shelf  # noqa: F401  fixtures

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PAGES = (
    "/caseload/", "/practice/adherence/", "/practice/dose/", "/practice/overdue/", "/practice/progression/",
    "/practice/course/",
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
        found[address] = faults(page)
    assert found == {address: [] for address in PAGES}
