"""The demo clinic: seeded the same from the same number, and no link on anyone's pages leads nowhere."""

from __future__ import annotations

import re

import pytest
from django.test import Client as Browser
from django.utils import timezone

from clinic.people.models import AuditEvent, Client, User
from clinic.people.vocab import Role
from clinic.project.demo.seed import seed_demo
from clinic.project.demo.story import MANNERS, manners
from programs.following.models import DayRecord, ProgramState, SessionLog, Suggestion
from programs.prescribing.models import Program

LINK = re.compile(r"<a\s[^>]*href=\"([^\"]+)\"")


@pytest.fixture
def seeded(db, settings):
    settings.DEMO = True
    seed_demo(clients=8, months=2, seed=7, now=timezone.now())


def links_on(browser: Browser, address: str) -> set[str]:
    answer = browser.get(address, follow=True)
    assert answer.status_code == 200, address
    if not answer["Content-Type"].startswith("text/html"):
        return set()
    found = LINK.findall(answer.content.decode())
    return {link.replace("&amp;", "&").split("#")[0] for link in found if not link.startswith(("tel:", "mailto:"))} - {""}


def test_every_link_on_every_roles_first_page_and_on_the_pages_behind_it_opens(seeded):
    for role in (Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD, Role.CLIENT):
        browser = Browser()
        browser.force_login(User.objects.filter(role=role).first())
        start = browser.get("/", follow=True)
        here = start.redirect_chain[-1][0]
        first = {link if link.startswith("/") else f"{here.split('?')[0]}{link}" for link in links_on(browser, here)}
        assert len(first) > 4, role
        for link in sorted(first):
            links_on(browser, link)


def test_each_client_has_a_whole_story(db):
    now = timezone.now()
    seed_demo(clients=3, months=1, seed=11, now=now)
    assert Client.objects.count() == 3
    assert Program.objects.count() == 3
    assert SessionLog.objects.exists()
    assert DayRecord.objects.exists()
    assert ProgramState.objects.count() == 3
    assert AuditEvent.objects.filter(verb="prescribe_program").count() == 3


def test_it_shows_suggestions_to_decide(seeded):
    assert Suggestion.objects.filter(state="open").exists()


@pytest.mark.parametrize("count", [1, 8, 60])
def test_the_manners_come_in_their_shares(count):
    told = list(manners(count))
    assert len(told) == count
    whole = sum(manner.share for manner in MANNERS)
    for manner in MANNERS:
        assert abs(told.count(manner) - count * manner.share / whole) < 1.0001
