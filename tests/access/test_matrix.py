"""Every route, every method, every role, as a literal table; a route without a row and a row without a route fail."""

from __future__ import annotations

import importlib
import json
import pkgutil

import pytest
from django.test import Client as Browser
from django.urls import URLPattern, URLResolver, get_resolver, reverse

import tests.access
from tests.access.roles import ROLES, Row, user_of

# not ours: the sign-in library answers by its own tests; its pages hold nothing of a client
FOREIGN = ("account_", "mfa_")


def _rows() -> list[Row]:
    names = [name for _, name, _ in pkgutil.iter_modules(tests.access.__path__) if name.startswith("matrix_")]
    return [row for name in names for row in importlib.import_module(f"tests.access.{name}").ROWS]


def _routes(resolver, namespace: str = "") -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            found.update(_routes(entry, inner))
        elif isinstance(entry, URLPattern) and entry.name and not entry.name.startswith(FOREIGN):
            found[namespace + entry.name] = _methods(entry.callback)
        elif isinstance(entry, URLPattern) and not entry.name:
            found[f"unnamed:{entry.pattern}"] = set()
    return found


def _methods(callback) -> set[str]:
    if hasattr(callback, "access"):
        return set(callback.access["methods"])
    if hasattr(callback, "cls"):
        roles = getattr(callback.cls, "roles", None)
        return set(roles) if roles is not None else {"GET"}
    return set(getattr(callback, "open_methods", {"GET"}))


ROWS = _rows()


def test_every_route_has_a_row_and_every_row_a_route():
    routes = {(name, method) for name, methods in _routes(get_resolver()).items() for method in methods}
    rows = {(row.route, row.method) for row in ROWS}
    assert routes - rows == set(), "routes without a row"
    assert rows - routes == set(), "rows without a route"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.method} {row.route}")
def test_the_row_holds(row: Row, cast, django_db_blocker):
    from django.db import transaction

    got = {}
    for role in ROLES:
        browser = Browser(raise_request_exception=True)
        user = user_of(cast, role)
        if user is not None:
            browser.force_login(user)
        with transaction.atomic():
            address = reverse(row.route, kwargs=row.make(cast))
            data = row.body(cast) if row.body else {}
            if row.method == "GET":
                answer = browser.get(address, row.query(cast) if row.query else {})
            elif address.startswith("/api/"):
                answer = browser.generic(row.method, address, json.dumps(data), content_type="application/json")
            else:
                answer = browser.post(address, data)
            got[role] = answer.status_code
            transaction.set_rollback(True)
    assert got == dict(zip(ROLES, row.expect, strict=True))
