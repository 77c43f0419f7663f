"""Log lines say what happened and where, and nothing about anybody."""

from __future__ import annotations

import json
import logging
import sys

import pytest

from clinic.people.logs import LineFormatter, RequestIdFilter


def line_for(logger: str, message: str, *args, exc_info=None) -> dict:
    record = logging.LogRecord(logger, logging.ERROR, "file.py", 1, message, args, exc_info)
    RequestIdFilter().filter(record)
    return json.loads(LineFormatter().format(record))


def test_a_failed_request_is_named_without_its_path():
    line = line_for("django.request", "%s: %s", "Internal Server Error", "/sign-in/link/secret-token/")
    assert line["event"] == "Internal Server Error"
    assert "secret-token" not in json.dumps(line)


def test_an_exception_is_named_by_type_and_place_not_by_its_words():
    try:
        raise ValueError("Ada Quill, +447700900101")
    except ValueError:
        line = line_for("anything", "it broke", exc_info=sys.exc_info())
    assert line["error"].startswith("ValueError at ")
    assert "Quill" not in json.dumps(line)


def test_arguments_of_other_libraries_are_left_out():
    assert "Ada" not in json.dumps(line_for("some.library", "saving %s", "Ada Quill"))


@pytest.mark.parametrize(("given", "kept"), [({"count": 3}, 3), ({"count": ["Ada"]}, None)])
def test_our_own_lines_carry_numbers_and_codes(given, kept):
    assert line_for("intervale.delivery", "delivered", given).get("count") == kept


def test_a_line_cannot_be_broken_in_two():
    assert "\n" not in LineFormatter().format(logging.LogRecord("x", 20, "f", 1, "one\ntwo", (), None))


def test_the_small_server_s_request_lines_go_nowhere(capfd):
    """A 404 is a warning, and Python itself prints a warning that no handler takes (logging.lastResort)."""
    logging.getLogger("django.server").warning('"GET /calendar/secret-token.ics HTTP/1.1" 404')
    assert logging.getLogger("django.server").handlers
    assert "secret-token" not in "".join(capfd.readouterr())


def test_a_server_error_logs_no_client_data(cast, browse, caplog, monkeypatch):
    monkeypatch.setattr("clinic.people.queries.search_clients", lambda *a: 1 / 0)
    browser = browse(cast.desk.user)
    browser.raise_request_exception = False
    answer = browser.get("/clients/?q=Quill")
    assert answer.status_code == 500
    assert "Quill" not in answer.content.decode()
    formatted = [LineFormatter().format(record) for record in caplog.records]
    assert formatted
    assert "Quill" not in "".join(formatted)
