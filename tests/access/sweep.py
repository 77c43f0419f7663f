"""The sweep itself: which routes lack a row, which rows answer otherwise than the table says, and what gets out.

Each function returns what is wrong, a line each, so that the tests of the sweep can plant a fault and look for the line.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator, Sequence
from types import SimpleNamespace
from typing import Any

from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client as Browser
from django.urls import URLPattern, URLResolver, reverse

from clinic.trust.registered import register
from tests.access.canaries import CANARIES, plant
from tests.access.roles import ROLES, Row, user_of

# not ours: the sign-in library answers by its own tests; its pages hold nothing of a client
FOREIGN = ("account_", "mfa_")
# whoever has no business with what Ada said of her body; the front desk knows who she is, the others not even that
BLIND = ("anonymous", "bo", "desk", "theo", "deactivated")
STRANGERS = ("anonymous", "bo", "deactivated")
DESCRIPTION = "api:openapi"   # names fields and holds nobody's data
CLINICAL = ("following.SessionLog", "following.ItemLog", "following.MorningAnswer", "following.DayRecord",
            "following.ProgramState", "following.Suggestion", "visits.Result", "prescribing.Screening", "prescribing.Item")
# names that say nothing by themselves: when, which, in what order
PLAIN_NAMES = frozenset({
    "at", "as_of", "attention", "day", "edit", "kind", "level", "logged", "made", "note", "number", "position", "priority",
    "received", "reasons", "rules", "side", "source", "started", "state", "decided_at", "decision_reason", "band",
    "phase_number", "phase_kind", "active", "value", "silent_days", "last_logged",
})


def routes(resolver: URLResolver, namespace: str = "") -> dict[str, set[str]]:
    """Methods of every route by name; a route without a name as `unnamed:…`."""
    found: dict[str, set[str]] = {}
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            found.update(routes(entry, inner))
        elif isinstance(entry, URLPattern) and entry.name and not entry.name.startswith(FOREIGN):
            found[namespace + entry.name] = _methods(entry.callback)
        elif isinstance(entry, URLPattern) and not entry.name:
            found[f"unnamed:{entry.pattern}"] = {"GET"}
    return found


def _methods(callback: Any) -> set[str]:
    if hasattr(callback, "access"):
        return set(callback.access["methods"])
    if hasattr(callback, "cls"):
        declared = getattr(callback.cls, "roles", None)
        return set(declared) if declared is not None else {"GET"}
    return set(getattr(callback, "open_methods", {"GET"}))


def unmatched(resolver: URLResolver, rows: Sequence[Row]) -> list[str]:
    """Routes without a row, and rows without a route."""
    there = {(name, method) for name, methods in routes(resolver).items() for method in methods}
    told = {(row.route, row.method) for row in rows}
    return sorted(f"{method} {name} has no row" for name, method in there - told) + sorted(
        f"{method} {name} has no route" for name, method in told - there
    )


def wrong_answers(row: Row, cast: SimpleNamespace) -> list[str]:
    """Roles that get another status than the table says."""
    got = {role: answer.status_code for role, answer in asked(row, cast, ROLES)}
    wanted = dict(zip(ROLES, row.expect, strict=True))
    return [f"{role} gets {got[role]}, not {wanted[role]}" for role in ROLES if got[role] != wanted[role]]


def leaks(row: Row, cast: SimpleNamespace) -> list[str]:
    """What of Ada's record stands in an answer to somebody who must not see it: to the row's own request, and to the same
    with nothing in it, which shows what the words of a refusal say."""
    found = []
    for role, answer in asked(row, cast, BLIND, filled=True):
        text = _text(answer)
        seen = {canary for canary in CANARIES if canary in text}
        if role == "desk" and row.route != DESCRIPTION:
            seen |= {f"the field {name}" for name in _keys(answer) & clinical_names()}
        if role in STRANGERS:
            seen |= {word for word in ("Quill", cast.ada.phone, cast.ada.email) if word in text}
        found += [f"{role} sees {what}" for what in sorted(seen)]
    return found


def seen(row: Row, cast: SimpleNamespace) -> set[str]:
    """The planted values that those see who may: a sweep that finds nothing anywhere would be blind."""
    texts = [_text(answer) for _, answer in asked(row, cast, ("ada", "mina", "lead"), filled=True)]
    return {canary for canary in CANARIES if any(canary in text for text in texts)}


def asked(
    row: Row, cast: SimpleNamespace, roles: Sequence[str], *, filled: bool = False
) -> Iterator[tuple[str, HttpResponseBase]]:
    """The answer that each of these roles gets; what it did is undone. `filled`: Ada's record is full of planted values."""
    with transaction.atomic():
        address = reverse(row.route, kwargs=row.make(cast))
        data, query = (maker(cast) if maker else {} for maker in (row.body, row.query))
        if filled:
            plant(cast)
        for role in roles:
            browser = Browser(raise_request_exception=True)
            user = user_of(cast, role)
            if user is not None:
                browser.force_login(user)
            for body in (data, {}) if filled and row.method != "GET" else (data,):
                with transaction.atomic():
                    yield role, _sent(browser, row.method, address, body, query)
                    transaction.set_rollback(True)
        transaction.set_rollback(True)


def _sent(browser: Browser, method: str, address: str, data: dict[str, Any], query: dict[str, Any]) -> HttpResponseBase:
    if method == "GET":
        return browser.get(address, query)
    if address.startswith("/api/"):
        return browser.generic(method, address, json.dumps(data), content_type="application/json", query_params=query)
    return browser.post(address, data, query_params=query)


def _text(answer: HttpResponseBase) -> str:
    whole = b"".join(answer.streaming_content) if answer.streaming else answer.content   # type: ignore[attr-defined]
    if answer.get("Content-Type") == "application/zip":
        with zipfile.ZipFile(io.BytesIO(whole)) as package:
            whole = b"\n".join(package.read(name) for name in package.namelist())
    head = "\n".join(f"{name}: {value}" for name, value in answer.items())
    # a calendar's lines are folded; an unfolded one is searched
    return f"{head}\n{whole.decode('utf-8', 'replace')}".replace("\r\n ", "")


def _keys(answer: HttpResponseBase) -> set[str]:
    """Every name of a field in a JSON answer, however deep."""
    if "json" not in answer.get("Content-Type", ""):
        return set()

    def walk(value: Any) -> Iterator[str]:
        for name, inner in value.items() if isinstance(value, dict) else ():
            yield name
            if name != "errors":   # names of what the caller sent
                yield from walk(inner)
        for inner in value if isinstance(value, list) else ():
            yield from walk(inner)

    return set(walk(json.loads(answer.content))) if answer.content else set()   # type: ignore[attr-defined]


def clinical_names() -> frozenset[str]:
    """Names of the fields that hold what was said or measured of a body, as the register has them."""
    entries = register()
    names = {name for label in CLINICAL for name, kind in entries[label].classes.items() if kind in {"care", "words"}}
    return frozenset(names | {"complaint", "goals"}) - PLAIN_NAMES
