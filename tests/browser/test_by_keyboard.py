"""The main jobs of the staff by keyboard alone.

Booking is in test_book_by_keyboard.py, the client's session in test_portal_access.py.

Each way leads through Tab, Enter, Space, the arrows and typed letters only; whatever has the focus on the way must show it.
"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.utils import timezone
from playwright.sync_api import Page, expect

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment
from clinic.visits.actions.load_measures import load_measures
from clinic.visits.models import Result
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import Suggestion
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from programs.prescribing.models import Program
from tests.browser.test_dashboards import silent, staff  # noqa: F401  fixtures
from tests.browser.test_portal_access import tab_to
from tests.following.conftest import program, shelf  # noqa: F401  fixtures

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def follow(page: Page, name: str, most: int = 60) -> None:
    """Go to the link or button of that name and press Enter: another page comes."""
    tab_to(page, name, most)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def unfold(page: Page, name: str, most: int = 60) -> None:
    """Go to what opens and press Enter."""
    tab_to(page, name, most)
    page.keyboard.press("Enter")


def test_a_clinician_writes_and_gives_a_program(cast, staff, now):   # noqa: F811
    with time_machine.travel(now, tick=True):
        load_library()
        load_templates()
        page = staff(cast.mina.user)
        page.goto(f"/clients/{cast.ada.public_id}/")
        follow(page, "Write a program.*", most=80)
        follow(page, "Begin with Hip and glute start", most=80)
        follow(page, "Give this program", most=400)
        given = Program.objects.get(client=cast.ada)
        expect(page).to_have_url(re.compile(str(given.public_id)))
        assert given.revisions.count() == 1


def test_a_clinician_decides_with_the_evidence_in_view(cast, silent, staff):   # noqa: F811
    follow_programs(now=timezone.now())
    page = staff(cast.mina.user)
    page.goto("/suggestions/")
    unfold(page, "Evidence.*")
    expect(page.locator("details[open]").first).to_be_visible()
    follow(page, "Accept.*")
    assert Suggestion.objects.filter(state="accepted").count() == 1


def test_the_desk_moves_a_visit_and_takes_it_back(cast, staff, now):   # noqa: F811
    with time_machine.travel(now, tick=True):
        start = (now + timedelta(days=1)).replace(hour=10, minute=0, second=0, microsecond=0)
        visit = book_visit(
            by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=now
        )
        page = staff(cast.desk.user)
        page.goto(f"/booking/?day={start:%Y-%m-%d}")
        follow(page, "10:00–10:30.*Ada Quill.*", most=80)
        follow(page, "Move to another time", most=60)
        follow(page, "Move here.*", most=80)
        visit.refresh_from_db()
        assert visit.starts != start
        follow(page, "Take it back.*", most=80)
        assert Appointment.objects.get(pk=visit.pk).starts == start


def test_a_clinician_records_a_measure(cast, staff, now):   # noqa: F811
    load_measures()
    page = staff(cast.mina.user)
    page.goto(f"/episodes/{cast.ada_hip.public_id}/measures/")
    follow(page, "Record a visit")
    unfold(page, "Numeric pain rating.*", most=60)
    page.keyboard.press("Tab")
    page.keyboard.type("3")
    follow(page, "Save the visit", most=60)
    result = Result.objects.get()
    assert (result.measure.code, result.value) == ("pain-now", 3)
