"""Every form of every page, filled with whatever comes: never a 500, and what was typed is shown again when it is refused.

Which forms there are is read off the address book: whatever takes POST and is no part of the API. Each is sent as its row of
the access matrix sends it (a route without a row fails there), with one field after another, and then several, in place of
what fits; and without any. The fields are those of the row and those that the page itself shows.
"""

from __future__ import annotations

import logging
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.messages import ERROR, get_messages
from django.db import transaction
from django.test import Client as Browser
from django.urls import NoReverseMatch, URLPattern, URLResolver, get_resolver, reverse
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.access import sweep
from tests.access.page_forms import Form, forms_of
from tests.access.roles import ROLES, Row, user_of
from tests.access.test_matrix import ROWS

ODD = (
    "", " ", "\x00", "a\x00b", "\u202eabc", "\u200b", "0", "-1", "1e309", "NaN", "99999999999999999999", "٣", "2026-02-30",
    "0001-01-01", "9999-12-31", "24:00", "25:61", "not-a-uuid", "00000000-0000-0000-0000-000000000000",
    "<script>alert(1)</script>", "'; --", "=1+1", "x" * 9000, "é" * 301, "👩\u200d👩\u200d👧", "line\r\nline", "\\", "%00",
    "None", "[]", "{}", "2026-03-29T01:30", "on",
)
EXAMPLES = 12
FORMS = [row for row in ROWS if row.method == "POST" and not row.route.startswith("api:")]
PAGES = [row for row in ROWS if row.method == "GET" and not row.route.startswith("api:")]
# the body is a signed report of a gateway, no form; its own tests send it anything
NO_FORM = {"reminders:sms_report"}
by_form = pytest.mark.parametrize("row", [row for row in FORMS if row.route not in NO_FORM], ids=lambda row: row.route)


@pytest.fixture(autouse=True)
def _quiet(caplog):
    caplog.set_level(logging.CRITICAL, "django.request")   # thousands of refusals, each meant


def test_every_route_that_takes_a_form_is_tried():
    there = {
        name for name, methods in sweep.routes(get_resolver()).items() if "POST" in methods and not name.startswith("api:")
    }
    assert there - NO_FORM == {row.route for row in FORMS} - NO_FORM
    assert there >= NO_FORM


def somebody(row: Row, cast: SimpleNamespace) -> Browser:
    """Signed in as the first who may."""
    able = [role for role, status in zip(ROLES, row.expect, strict=True) if status in (200, 302) and role != "anonymous"]
    able = [role for role in able if role != "deactivated"] or ["mina"]
    browser = Browser(raise_request_exception=True)
    browser.force_login(user_of(cast, able[0]))
    return browser


def prepared(row: Row, cast: SimpleNamespace) -> tuple[str, dict[str, Any], dict[str, Any]]:
    address = reverse(row.route, kwargs=row.make(cast))
    body, query = (maker(cast) if maker else {} for maker in (row.body, row.query))
    return address, {name: value for name, value in body.items() if value is not None}, query


@by_form
def test_a_form_takes_whatever_is_typed(row: Row, cast):
    browser = somebody(row, cast)
    address, body, query = prepared(row, cast)
    fields = sorted({*body, *shown_fields(browser, address, query, body)})

    @settings(
        max_examples=EXAMPLES, deadline=None, derandomize=True, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.dictionaries(st.sampled_from(fields or ["nothing"]), st.one_of(st.sampled_from(ODD), st.text(max_size=40)),
                           min_size=1, max_size=3))
    def typed(changed: dict[str, str]) -> None:
        sent(browser, address, query, body | {k: v for k, v in changed.items() if v < "\ud800" or v < "\udfff"})

    sent(browser, address, query, {})
    for place, name in enumerate(fields):
        sent(browser, address, query, body | {name: ODD[(place * 7 + len(address)) % len(ODD)]})
        sent(browser, address, query, body | {name: ODD[(place * 11 + 2) % len(ODD)]})
    typed()


def shown_fields(browser: Browser, address: str, query: dict[str, Any], body: dict[str, Any]) -> set[str]:
    """Fields of the forms that this address itself shows; where there are several, of the one that the row fills in."""
    with transaction.atomic():
        answer = browser.get(address, query)
        transaction.set_rollback(True)
    fields = [{*form.values, *form.typed, *form.choices} - {"csrfmiddlewaretoken", ""} for form in posted(answer, address)]
    best = max((len(some & body.keys()) for some in fields), default=0)
    return {name for some in fields if len(some & body.keys()) == best for name in some}


def posted(answer: Any, address: str) -> list[Form]:
    """The forms of a page that lead to this address."""
    if "html" not in answer.get("Content-Type", ""):
        return []
    forms = [form for form in forms_of(answer.content.decode()) if form.method == "post"]
    return [form for form in forms if form.action.partition("?")[0] in ("", address)]


def sent(browser: Browser, address: str, query: dict[str, Any], data: dict[str, Any]) -> None:
    """Send it; a refusal shows what was typed again. What it did is undone."""
    with transaction.atomic():
        answer = browser.post(address, data, query_params=query)
        told = [message for message in get_messages(answer.wsgi_request) if message.level >= ERROR]
        page = browser.get(answer["Location"]) if answer.status_code == 302 and told else answer
        transaction.set_rollback(True)
    assert answer.status_code < 500, (address, data, answer.status_code)
    if answer.status_code in (400, 409, 412) or told:
        assert lost(posted(page, address), data) == set(), (address, data)


def lost(forms: list[Form], data: dict[str, Any]) -> set[str]:
    """Fields whose words stand in none of the forms that are shown again."""
    typed = {name: value for name, value in data.items() if isinstance(value, str) and value.strip()}
    shown = {name for form in forms for name in form.typed}
    kept = {name for form in forms for name, value in form.typed.items() if _plain(value) == _plain(typed.get(name, ""))}
    return (typed.keys() & shown) - kept


def _plain(value: str) -> str:
    # a browser sends line ends as CR LF and shows them as LF; HTML holds no NUL
    return value.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "\ufffd").strip()


@pytest.mark.parametrize("row", PAGES, ids=lambda row: row.route)
def test_a_page_takes_whatever_is_asked_of_it(row: Row, cast):
    """What stands behind the question mark: fields of the page's own search forms, those of the row, the page's number."""
    browser = somebody(row, cast)
    address, _, query = prepared(row, cast)
    with transaction.atomic():
        answer = browser.get(address, query)
        transaction.set_rollback(True)
    shown = forms_of(answer.content.decode()) if "html" in answer.get("Content-Type", "") else []
    names = {
        name for form in shown if form.method == "get" for name in (*form.values, *form.typed, *form.choices) if name
    }
    for place, name in enumerate(sorted({*names, *query, "page"})):
        for step in range(5):
            value = ODD[(place * 7 + step * 9 + len(address)) % len(ODD)]
            with transaction.atomic():
                status = browser.get(address, query | {name: value}).status_code
                transaction.set_rollback(True)
            assert status < 500 or status == answer.status_code, (address, name, value, status)


def doors(resolver: URLResolver) -> list[str]:
    """Names of the sign-in library's routes."""
    return sorted(
        entry.name for each in resolver.url_patterns if isinstance(each, URLResolver) for entry in _all(each)
        if entry.name and entry.name.startswith(sweep.FOREIGN)
    )


def _all(resolver: URLResolver) -> list[URLPattern]:
    inner = [_all(each) if isinstance(each, URLResolver) else [each] for each in resolver.url_patterns]
    return [entry for some in inner for entry in some]


@pytest.mark.parametrize("who", ["anonymous", "ada", "desk"])
def test_the_forms_of_signing_in_take_whatever_is_typed(cast, who):
    names = doors(get_resolver())
    assert {"account_login", "account_request_login_code", "account_reset_password", "mfa_activate_totp"} <= set(names)
    fields = ("login", "email", "password", "password1", "password2", "oldpassword", "code", "credential", "name", "next")
    for place, name in enumerate(names):
        try:
            address = reverse(name)
        except NoReverseMatch:   # a key in the address: reached by mail only
            continue
        for step in range(4):
            value = ODD[(place * 5 + step * 9) % len(ODD)]
            browser = Browser(raise_request_exception=True)
            if who != "anonymous":
                browser.force_login(user_of(cast, who))
            with transaction.atomic():
                status = browser.post(address, dict.fromkeys(fields, value)).status_code
                transaction.set_rollback(True)
            assert status < 500, (address, value, status)
