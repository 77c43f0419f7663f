"""What the database says about a request: again in a moment, no room, or broken."""

from __future__ import annotations

import json
import sqlite3
from types import SimpleNamespace

import psycopg
import pytest
from django.db import InterfaceError, OperationalError

from clinic.people import apibase, queries
from clinic.people.models import Client, IdempotencyKey
from clinic.people.trouble import status_of, was_undone


def raised(cause, kind=OperationalError):
    """The error as Django passes on what the driver said."""
    try:
        raise kind("something with Ada Quill in it") from cause
    except kind as error:
        return error


def lite(name):
    error = sqlite3.OperationalError("x")
    error.sqlite_errorcode = getattr(sqlite3, name)
    return raised(error)


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (raised(psycopg.OperationalError("connection is lost")), 503),
        (raised(psycopg.errors.AdminShutdown()), 503),
        (raised(psycopg.errors.CrashShutdown()), 503),
        (raised(psycopg.errors.CannotConnectNow()), 503),
        (raised(psycopg.errors.TooManyConnections()), 503),
        (raised(psycopg.errors.DeadlockDetected()), 503),
        (raised(psycopg.errors.LockNotAvailable()), 503),
        (raised(psycopg.InterfaceError("the connection is closed"), InterfaceError), 503),
        (raised(psycopg.errors.DiskFull()), 507),
        (lite("SQLITE_BUSY"), 503), (lite("SQLITE_BUSY_SNAPSHOT"), 503), (lite("SQLITE_LOCKED"), 503),
        (lite("SQLITE_FULL"), 507), (lite("SQLITE_READONLY"), 507), (lite("SQLITE_IOERR_WRITE"), 507),
        (raised(psycopg.errors.UndefinedTable()), None), (lite("SQLITE_ERROR"), None),
        (ValueError("x"), None), (None, None),
    ],
    ids=lambda value: str(getattr(value, "__cause__", value)) if not isinstance(value, int) else str(value),
)
def test_each_error_is_read_by_its_code(error, status):
    assert status_of(error) == status


@pytest.mark.parametrize(
    ("error", "undone"),
    [
        (raised(psycopg.errors.DeadlockDetected()), True), (raised(psycopg.errors.SerializationFailure()), True),
        (raised(psycopg.errors.LockNotAvailable()), True), (lite("SQLITE_BUSY"), True), (lite("SQLITE_FULL"), False),
        # the line may have broken after the commit: to do the work again could do it twice
        (raised(psycopg.OperationalError("connection is lost")), False), (raised(psycopg.errors.AdminShutdown()), False),
    ],
    ids=lambda value: str(value) if isinstance(value, bool) else repr(value.__cause__),
)
def test_only_what_the_database_took_back_is_done_again_at_once(error, undone):
    assert was_undone(error) is undone


def test_an_error_while_tidying_up_does_not_hide_the_one_that_counts():
    def broken():
        try:
            raise raised(psycopg.errors.AdminShutdown())
        finally:
            raise ValueError("tidying up")

    with pytest.raises(ValueError, match="tidying up") as found:
        broken()
    assert status_of(found.value) == 503


@pytest.fixture
def asked(cast, browse, monkeypatch):
    """asked(path, error) -> the answer of a page or an API view whose read fails so."""
    browser = browse(cast.desk.user)
    browser.raise_request_exception = False

    def asking(path, error):
        def fails(*args):
            raise error

        monkeypatch.setattr(queries, "search_clients", fails)
        return browser.get(path)

    return asking


@pytest.mark.parametrize(("name", "status", "code"), [("SQLITE_BUSY", 503, "try_again"), ("SQLITE_FULL", 507, "no_room")])
def test_a_page_and_the_api_say_it_and_when_to_come_again(asked, name, status, code):
    page = asked("/clients/", lite(name))
    assert page.status_code == status
    assert int(page["Retry-After"]) >= 1
    words = page.content.decode()
    assert ("cannot be reached" if status == 503 else "disk is full") in words
    assert "Quill" not in words
    api = asked("/api/v1/clients", lite(name))
    assert (api.status_code, api["Content-Type"]) == (status, "application/problem+json")
    assert api.json()["title"] == code
    assert api["Retry-After"] == page["Retry-After"]


class Dead(BaseException):
    """As little caught as a kill."""


@pytest.mark.django_db(transaction=True)
def test_a_write_that_dies_before_its_answer_leaves_nothing_and_the_same_request_does_it_once(cast, browse, monkeypatch):
    def ask():
        return browse(cast.desk.user).post(
            "/api/v1/clients", {"site": "Harbour Lane", "given_name": "Cleo"}, content_type="application/json",
            headers={"Idempotency-Key": "dies"},
        )

    def dies(text):
        assert Client.objects.filter(given_name="Cleo").exists()   # the work was done
        raise Dead

    monkeypatch.setattr(apibase, "json", SimpleNamespace(dumps=json.dumps, loads=dies))
    with pytest.raises(Dead):
        ask()
    monkeypatch.undo()
    assert not Client.objects.filter(given_name="Cleo").exists()
    assert not IdempotencyKey.objects.exists()
    first, again = ask(), ask()
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert Client.objects.filter(given_name="Cleo").count() == 1


def test_a_refused_write_keeps_no_key(cast, browse):
    answer = browse(cast.desk.user).post(
        "/api/v1/clients", {"site": "Harbour Lane"}, content_type="application/json", headers={"Idempotency-Key": "no"}
    )
    assert answer.status_code == 400
    assert not IdempotencyKey.objects.exists()
