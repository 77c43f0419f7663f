"""Another level for today on a phone: in the guided session, and without signal."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from playwright.sync_api import expect

from programs.following.models import ItemLog
from programs.library.models import Level
from programs.library.rules.dose import dose_to_json
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.rules.plan import Plan
from tests.browser.test_portal_offline import phone, server_clock, settle, states  # noqa: F401  fixtures
from tests.portal.conftest import DRAWING, HOLD, PHASES, STARTS, exercises, items  # noqa: F401  a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def program(cast, exercises, now):   # noqa: F811
    """The lean at level 2 of 3, one step either way left to Ada."""
    for number, name in ((2, "Middle"), (3, "With a weight")):
        Level.objects.create(
            exercise=exercises[0], number=number, name=name, cues=[f"Cue of {name}"], dose=dose_to_json(HOLD), drawing=DRAWING
        )
    lean = replace(items(1)[0], level=2, leeway="either")
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=Plan(STARTS, PHASES, (lean,)), title="Hip at home", starts=STARTS,
        now=now,
    )


def test_an_easier_level_in_the_guided_session(phone, program, cast):   # noqa: F811
    page = phone(cast.ada)
    settle(page, "/portal/session/")
    page.get_by_role("button", name="Guide me through it").click()
    expect(page.get_by_text("Cue of With a weight")).to_be_hidden()
    page.get_by_role("radio", name="Harder: With a weight").check()   # nothing lies over it that scrolling cannot free
    expect(page.get_by_text("Cue of With a weight")).to_be_visible()
    page.get_by_role("radio", name="Easier: Easy").check()
    expect(page.get_by_text("Cue of With a weight")).to_be_hidden()
    page.get_by_role("button", name="I did it all. Next").click()
    page.get_by_role("button", name="Save my session").click()
    expect(page).to_have_url(re.compile("/portal/session/saved/"))
    assert (ItemLog.objects.get().level, ItemLog.objects.get().done_left) == (1, 110)


def test_a_harder_level_without_signal(phone, program, cast):   # noqa: F811
    page = phone(cast.ada)
    settle(page)
    page.context.set_offline(True)
    page.goto("/portal/")
    page.get_by_role("button", name="Open my session").click()
    page.get_by_role("radio", name="Harder: With a weight").check(force=True)
    page.get_by_role("radio", name="All of it").check(force=True)
    page.get_by_role("button", name="Save my session").click()
    expect(page.get_by_role("heading", name="Saved on this phone")).to_be_visible()
    assert states(page) == ["waiting"]
    page.context.set_offline(False)
    settle(page)
    expect(page.locator('[data-list] li[data-state="waiting"]')).to_have_count(0)
    assert ItemLog.objects.get().level == 3
