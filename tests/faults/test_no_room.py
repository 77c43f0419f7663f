"""SQLite on a full or read-only disk, and with twenty writers: a clear answer, nothing lost, and on again with room."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections import Counter

import pytest
from django.db import connection, connections
from django.test import Client as Browser

from clinic.people.models import Client

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def desk(cast, browse):
    browser = browse(cast.desk.user)
    browser.raise_request_exception = False
    assert browser.get("/clients/").status_code == 200   # its session is of today now and needs no more writing
    return browser


def register(browser, name, key):
    body = {"site": "Harbour Lane", "given_name": name}
    return browser.post(
        "/api/v1/clients", body, content_type="application/json", headers={"Idempotency-Key": key}
    )


def pragma(text):
    with connection.cursor() as cursor:
        return cursor.execute(f"PRAGMA {text}").fetchone()


def registered_until_full(browser):
    """Register clients with long names until the disk says no; that answer."""
    for number in range(200):
        answer = register(browser, f"{number}" + "x" * 70, f"full-{number}")
        if answer.status_code != 201:
            return answer
    raise AssertionError("the disk never became full")


def test_a_full_disk_says_so_and_what_is_stored_can_be_read_and_it_goes_on_with_room(desk, cast):
    pragma("wal_checkpoint(TRUNCATE)")
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")   # no free pages left inside the file
    pages = pragma("page_count")[0]
    try:
        pragma(f"max_page_count={pages + 4}")   # the engine itself says SQLITE_FULL from here on
        refused = registered_until_full(desk)
        there = Client.objects.count()
        assert (refused.status_code, refused.json()["title"]) == (507, "no_room")
        assert int(refused["Retry-After"]) > 0
        assert "Harbour" not in refused.content.decode()
        page = desk.get("/clients/")
        assert page.status_code == 200
        assert "Quill" in page.content.decode()
        assert desk.get(f"/api/v1/clients/{cast.ada.public_id}").status_code == 200
        assert pragma("integrity_check") == ("ok",)
    finally:
        pragma("max_page_count=1073741823")
    assert register(desk, "Cleo", "with room").status_code == 201
    assert Client.objects.count() == there + 1   # the refused one left nothing
    assert pragma("integrity_check") == ("ok",)


def test_a_read_only_disk_says_so_and_what_is_stored_can_be_read(desk, cast):
    before = connections["default"]
    read_only = type(before)(
        {**before.settings_dict, "NAME": f"file:{before.settings_dict['NAME']}?mode=ro",
         "OPTIONS": {"uri": True, "transaction_mode": "IMMEDIATE", "timeout": 2}},
        "default",
    )
    connections["default"] = read_only
    try:
        refused = register(desk, "Cleo", "read only")
        assert (refused.status_code, refused.json()["title"]) == (507, "no_room")
        page = desk.get("/clients/")
        assert (page.status_code, "Quill" in page.content.decode()) == (200, True)
    finally:
        read_only.close()
        connections["default"] = before
    assert register(desk, "Cleo", "read only").status_code == 201   # the same key: nothing was left behind
    assert Client.objects.filter(given_name="Cleo").count() == 1


def test_a_lock_that_outlasts_the_patience_is_answered_with_when_to_come_again(desk):
    """Another program holds the file for writing: waited for, then 503; nothing is lost and reading goes on."""
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    pragma("busy_timeout=200")
    other.execute("BEGIN IMMEDIATE")
    try:
        refused = register(desk, "Cleo", "locked")
        assert refused.status_code == 503
        assert "Retry-After" in refused
        assert desk.get("/clients/").status_code == 200
    finally:
        other.execute("ROLLBACK")
        other.close()
        pragma("busy_timeout=20000")
    assert register(desk, "Cleo", "locked").status_code == 201


def test_twenty_writers_at_once_are_all_served(cast, browse):
    cookie = browse(cast.desk.user).cookies["session"].value
    found: list[int] = []

    def write(number):
        browser = Browser(raise_request_exception=False)
        browser.cookies["session"] = cookie
        try:
            for turn in range(2):
                found.append(register(browser, f"Writer {number}", f"{number}-{turn}").status_code)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=write, args=(number,)) for number in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Counter(found) == {201: 40}   # none was told that the file is locked
    assert pragma("integrity_check") == ("ok",)
    assert (pragma("journal_mode"), pragma("synchronous"), pragma("foreign_keys")) == (("wal",), (1,), (1,))


def test_a_long_reader_does_not_hold_writers_up_and_the_log_shrinks_again(desk):
    """A report reads for a long time: writers go on, and the write-ahead log is put back into the file afterwards."""
    path = connection.settings_dict["NAME"]
    reader = sqlite3.connect(path, isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM people_client").fetchone()
    try:
        answers = [register(desk, f"Reader {number}", f"r-{number}").status_code for number in range(10)]
        assert answers == [201] * 10
        before = reader.execute("SELECT count(*) FROM people_client WHERE given_name LIKE 'Reader%'").fetchone()[0]
        assert before == 0   # the report sees the moment it began in
    finally:
        reader.execute("ROLLBACK")
        reader.close()
    assert pragma("wal_checkpoint(TRUNCATE)")[0] == 0   # not busy: nobody holds an old page any more
    assert os.path.getsize(f"{path}-wal") == 0
