"""Ada's ids in Bo's hands: the same answer, byte for byte and header for header, as ids of nobody.

What is asked comes from the access matrix, which names every route of the URL conf or fails: a new route is asked here too.
"""

from __future__ import annotations

import json
import re
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client as Browser
from django.urls import reverse

import programs.portal
from programs.following.models import SessionLog
from programs.prescribing.queries import newest_revision
from tests.access.matrix_portal import session
from tests.access.roles import ROLES, Row
from tests.access.test_matrix import ROWS

BO = ROLES.index("bo")
ID = re.compile(r"[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}")
# made anew for every answer: the form's token, a passkey's challenge, a secret shown once
FRESH = re.compile(r'name="csrfmiddlewaretoken" value="\w+"|"challenge": "[\w-]+"|<code>[^<]+</code>')
NO_KEY = 2_000_000_000
# headers that differ in every answer, whoever asks for whatever
EACH_ITS_OWN = {"Set-Cookie", "X-Request-Id", "Date"}
# the clinic's own portal asks every client of the site: its token is no other client's thing
EVERYBODYS = {("POST", "portal:answer_own_portal")}
QUERIES = ("program", "about", "kind", "cursor", "page", "days")
NAMED = [row for row in ROWS if row.make is not Row.make or row.body or row.query]
READS = [row for row in ROWS if row.method == "GET" and row.route.startswith(("portal:", "api:")) and row.expect[BO] == 200]


def absent(value: Any) -> Any:
    """The same words, with every id in them one of nobody."""
    match value:
        case dict():
            return {name: absent(one) for name, one in value.items()}
        case list():
            return [absent(one) for one in value]
        case uuid.UUID():
            return uuid.uuid4()
        case str():
            return ID.sub(lambda _: str(uuid.uuid4()), value)
    return value


def asked(browser: Browser, row: Row, kwargs: dict[str, Any], body: Any, query: dict[str, Any]) -> HttpResponse:
    """Ask it as the matrix does; whatever it did is undone."""
    with transaction.atomic():
        address = reverse(row.route, kwargs=kwargs, query=query)
        if row.method == "GET":
            answer = browser.get(address)
        elif address.startswith("/api/"):
            answer = browser.generic(row.method, address, json.dumps(body, default=str), content_type="application/json")
        else:
            answer = browser.post(address, body)
        transaction.set_rollback(True)
    return answer


def plain(answer: HttpResponse) -> tuple[int, dict[str, str], str]:
    """Status, headers and body, without the marks that differ in every answer and without the ids that were asked for."""
    content = b"".join(answer) if answer.streaming else answer.content
    body = ID.sub("ID", FRESH.sub("", content.decode("latin-1")))
    headers = {name: ID.sub("ID", value) for name, value in answer.items() if name not in EACH_ITS_OWN}
    return answer.status_code, headers, body


@pytest.fixture
def bo(cast, browse) -> Browser:
    return browse(cast.bo.user)


@pytest.mark.parametrize("row", NAMED, ids=lambda row: f"{row.method} {row.route}")
def test_ids_of_adas_answer_as_ids_of_nobody(cast, bo, row):
    kwargs = row.make(cast)
    body = row.body(cast) if row.body else {}
    query = row.query(cast) if row.query else {}
    nobodys = {name: NO_KEY if isinstance(value, int) else absent(value) for name, value in kwargs.items()}
    theirs = plain(asked(bo, row, kwargs, body, query))
    if (row.method, row.route) in EVERYBODYS:
        assert theirs[0] == 302
        return
    assert theirs == plain(asked(bo, row, nobodys, absent(body), absent(query)))
    if kwargs and row.route.startswith(("portal:", "api:")):
        assert theirs[0] == 404


@pytest.mark.parametrize("row", READS, ids=lambda row: row.route)
def test_ids_of_adas_in_a_query_answer_as_ids_of_nobody(cast, bo, browse, row):
    told = session(cast)
    assert browse(cast.ada.user).post("/portal/session/", told).status_code == 302
    log = SessionLog.objects.get()
    for held in (log.program.public_id, newest_revision(log.program).public_id, log.log_id):
        for name in QUERIES:
            answers = [plain(asked(bo, row, {}, {}, {name: str(one)})) for one in (held, uuid.uuid4())]
            assert answers[0] == answers[1], name


def test_a_query_of_every_name_that_the_portal_reads_is_asked():
    sources = [path.read_text("utf-8") for path in Path(programs.portal.__file__).parent.rglob("*.py")]
    read = {found for text in sources for found in re.findall(r'(?:GET|query_params)(?:\.get\(|\[)"(\w+)"', text)}
    assert read <= set(QUERIES)
    assert {"program", "about", "kind", "days"} <= read
