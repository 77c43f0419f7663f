"""Every page that the staff or a visitor can open, held against the rules of WCAG 2.2 that a machine can check.

In light and dark, on a screen of 320 px. The pages are the access matrix's own rows and the sign-in library's: a new page is
looked at without anybody adding it here. Each is rendered by the application itself and laid out by Chromium; the portal's
pages have tests/browser/test_portal_access.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.staticfiles import finders
from django.db import transaction
from django.http import HttpResponse
from django.test import Client as Browser
from django.urls import reverse
from playwright.sync_api import Page, Route

from tests.access.roles import ROLES, Row, user_of
from tests.access.test_matrix import ROWS
from tests.browser.test_portal_pages import RULES

pytestmark = [pytest.mark.browser, pytest.mark.django_db]
HOUSE = "http://localhost"   # answered by `serve`; browsers trust the origin, as they do https
SIGN_IN = ("account_login", "account_request_login_code", "account_reset_password", "mfa_index", "mfa_activate_totp")
LOOKED_AT = ("desk", "mina", "lead", "anonymous")


def first_reader(row: Row) -> str | None:
    """The first role that gets the page."""
    return next((role for role in LOOKED_AT if row.expect[ROLES.index(role)] == 200), None)


PAGES = [
    row for row in ROWS
    if row.method == "GET" and first_reader(row) and not row.route.startswith(("api:", "portal:"))
]


def addresses(role: str, cast: SimpleNamespace) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """(route, address, query) of each page that `role` is the first to get, then of the sign-in library's pages."""
    for row in PAGES:
        if first_reader(row) == role:
            with transaction.atomic():
                yield row.route, reverse(row.route, kwargs=row.make(cast)), row.query(cast) if row.query else {}
                transaction.set_rollback(True)
    if role in ("desk", "anonymous"):
        yield from ((name, reverse(name), {}) for name in SIGN_IN)
        yield "no such page", "/no-such-page/", {}


def serve(page: Page, shown: dict[str, HttpResponse]) -> None:
    """Let the browser have the answer under "page" for every address but those of files of ours."""

    def answer(route: Route) -> None:
        path = urlsplit(route.request.url).path
        file = finders.find(path.removeprefix("/static/")) if path.startswith("/static/") else None
        if file is not None:
            route.fulfill(path=file)
        elif route.request.is_navigation_request():
            got = shown["page"]
            route.fulfill(headers=dict(got.headers), body=got.content)
        else:
            route.fulfill(status=404)

    page.route("**/*", answer)


def faults(page: Page) -> list[str]:
    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        report = Axe().run(page, options={**RULES, "resultTypes": ["violations"]})
        found += [
            f"{scheme}: {fault['id']}: {node['target']} {node['failureSummary']}"
            for fault in report.response["violations"] for node in fault["nodes"]
        ]
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return [*found, *([f"{wide} px wider than the screen"] if wide > 0 else [])]


@pytest.mark.parametrize("role", LOOKED_AT)
def test_no_page_has_a_fault_that_a_machine_finds(role, chromium, cast):
    browser, complaints, found = Browser(), [], {}
    if role != "anonymous":
        browser.force_login(user_of(cast, role))
    context = chromium.new_context(viewport={"width": 320, "height": 700})
    page, shown = context.new_page(), {}
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
    serve(page, shown)
    for route, address, query in addresses(role, cast):
        answer = browser.get(address, query)
        if answer.status_code in (200, 404) and not answer.streaming and answer.content.startswith(b"<!doctype html>"):
            shown["page"] = answer
            page.goto(f"{HOUSE}{answer.wsgi_request.get_full_path()}")
            found[route] = faults(page)
    context.close()
    assert {route: what for route, what in found.items() if what} == {}
    assert complaints == []
    assert found
