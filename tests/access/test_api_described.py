"""The API against its own description, fuzzed by schemathesis: never a 500, every answer documented.

Each operation is asked as the access matrix asks it, then with requests drawn from the served document, fitting it and
breaking it; half of those with an id in the path name the matrix's own thing. Every answer must have a documented status,
a documented media type and a body that fits its schema.
"""

from __future__ import annotations

import json
import logging
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from django.test import Client as Browser
from django.urls import get_resolver
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from clinic.project.wsgi import application
from programs.portal.actions.make_token import make_token
from tests.access.test_matrix import ROWS

CHECKS = [
    not_a_server_error, status_code_conformance, content_type_conformance, response_headers_conformance,
    response_schema_conformance,
]
CSRF = "a" * 32
Callers = dict[str, tuple[dict[str, str], dict[str, str]]]   # cookies and headers by name
EXAMPLES = 8   # of each operation and role


@pytest.fixture
def described(db):
    """The served document. Requests run in the test's transaction: the usual closing of connections is off meanwhile."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield schemathesis.openapi.from_wsgi("/api/v1/openapi.json", application)
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def callers(cast):
    """Cookies and headers of a client, a clinician, the front desk, the lead, a client's token and a visitor."""
    _, secret = make_token(by=cast.ada.user, label="Watch", scopes={"plan", "log"}, days=30, now=timezone.now())
    found = {"visitor": ({"csrftoken": CSRF}, {}), "token": ({}, {"Authorization": f"Bearer {secret}"})}
    staff = {"clinician": cast.mina.user, "desk": cast.desk.user, "lead": cast.lead.user}
    for name, user in {"client": cast.ada.user, **staff}.items():
        browser = Browser()
        browser.force_login(user)
        found[name] = {"csrftoken": CSRF, "session": browser.cookies["session"].value}, {}
    return found


def test_every_answer_is_documented(cast, described, callers, caplog):
    caplog.set_level(logging.CRITICAL, "django.request")   # thousands of refusals, each meant
    rows = {(row.method, template(row.route)): row for row in ROWS if row.route.startswith("api:")}
    failures = {}
    for found in described.get_all_operations():
        operation = found.ok()
        row = rows[operation.method.upper(), operation.path]
        with transaction.atomic():
            try:
                thing = {name: str(value) for name, value in row.make(cast).items()}
                body = {"body": plain(row.body(cast)), "media_type": "application/json"} if row.body else {}
                ask(operation.Case(path_parameters=thing, query=row.query(cast) if row.query else {}, **body), callers)
                fuzz(operation, callers, thing)
            except (Exception, FailureGroup) as error:
                failures[operation.label] = str(error)[:1500]
            transaction.set_rollback(True)
    assert not failures, "\n\n".join(f"{name}: {words}" for name, words in failures.items())


def template(route: str) -> str:
    """The path of an API route as the description writes it, such as /api/v1/clients/{public_id}."""
    prefix, resolver = get_resolver().namespace_dict["api"]
    [((path, names),)] = [entry[0] for entry in resolver.reverse_dict.getlist(route.removeprefix("api:"))]
    return f"/{prefix}{path % {name: f'{{{name}}}' for name in names}}"


def plain(body: Any) -> Any:
    return json.loads(json.dumps(body))


def ask(case: Any, callers: Callers) -> None:
    """Everybody sends it; each answer is looked at, and what it did is undone."""
    for cookies, headers in callers.values():
        with transaction.atomic():
            answer = case.call(cookies=cookies, headers={"X-CSRFToken": CSRF, **headers})
            transaction.set_rollback(True)
        case.validate_response(answer, checks=CHECKS)


def fuzz(operation: Any, callers: Callers, thing: dict[str, str]) -> None:
    """Requests drawn from the description, fitting it and breaking it; half of them name the thing that exists."""
    drawn = st.one_of(*(operation.as_strategy(generation_mode=mode) for mode in GenerationMode))

    @settings(
        max_examples=EXAMPLES, deadline=None, derandomize=True, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(drawn, st.booleans())
    def sent(case: Any, there: bool) -> None:
        if there and thing:
            case.path_parameters = thing
        ask(case, callers)

    sent()
