"""The one-process mode on SQLite: everything in one process, killed while a mail is on its way, and started again."""

from __future__ import annotations

import sqlite3
import sys
import time
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection, connections
from django.utils import timezone

from clinic.people.queries import system_actor
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message
from tests.faults import ledger
from tests.faults.post import Post
from tests.faults.practice import open_practice
from tests.reminders.processes import ROOT, environment, free_port, kill, running, wait_until


@contextmanager
def own_file(path: Path):
    """This process's queries go to a copy of the tests' database, migrated and empty."""
    before = connections["default"]
    before.ensure_connection()
    with closing(sqlite3.connect(path)) as copy:
        before.connection.backup(copy)
    connections["default"] = type(before)({**before.settings_dict, "NAME": str(path)}, "default")
    try:
        yield
    finally:
        connections["default"].close()
        connections["default"] = before


@pytest.mark.django_db(transaction=True)
def test_the_one_process_is_killed_in_a_delivery_and_starts_again_with_nothing_lost(tmp_path):
    port, post, log = free_port(), Post(), tmp_path / "log"
    env = environment(
        tmp_path, INTERVALE_DATABASE=f"sqlite://{tmp_path}/clinic.sqlite3", INTERVALE_SECRET_KEY=settings.SECRET_KEY,
        INTERVALE_REDIS="", INTERVALE_PREPARED="1", INTERVALE_TICK_SECONDS="0.3", INTERVALE_DIGEST_HOUR="off",
        INTERVALE_EMAIL_BACKEND="django.core.mail.backends.smtp.EmailBackend", INTERVALE_SMTP_PORT=str(post.port),
        INTERVALE_SMTP_SECONDS="2", INTERVALE_FROM=settings.DEFAULT_FROM_EMAIL, INTERVALE_HOSTS="127.0.0.1",
    )
    command = [sys.executable, str(ROOT / "manage.py"), "demo", "--port", str(port)]

    def note(kind):
        now = timezone.now()
        return queue_message(
            by=system_actor(), kind=kind, to=practice.desk, about="staff:1", dedup_key=f"{kind}:{time.monotonic_ns()}",
            due=now, not_after=now + timedelta(hours=1), now=now,
            values={"time": "09:00 UTC", "counts": "1 thing", "url": "/"},
        )

    try:
        with own_file(tmp_path / "clinic.sqlite3"):
            practice = open_practice(f"http://127.0.0.1:{port}", clients=3)
            early, late, fine = practice.clients
            with running(command, env, log) as only:
                wait_until(lambda: practice.ask("/health/ready").status == 200, "green health", log, only)
                post.manners |= {early.email: "hang_early", practice.desk.user.email: "hang"}
                practice.booked(early)
                wait_until(lambda: post.asked[early.email], "the address at the server", log, only)
                kill(only)   # the address was named, the letter never left
            assert Message.objects.get(client=early, kind="visit_booked").state == "claimed"
            with running(command, env, log) as only:
                wait_until(lambda: practice.ask("/health/live").status == 200, "life", log, only)
                held = note("daily_digest")
                wait_until(lambda: post.copies()[ledger.mail_id(held)], "the letter at the server", log, only)
                kill(only)   # the letter is there and nobody knows
            post.manners.clear()
            Message.objects.filter(state="claimed").update(lease_until=timezone.now() - timedelta(seconds=1))
            with running(command, env, log) as only:
                wait_until(lambda: practice.ask("/health/live").status == 200, "life", log, only)
                practice.booked(late)
                practice.logged()
                practice.booked(fine)
                due = Message.objects.filter(due__lte=timezone.now()).exclude(state__in=["sent", "unknown"])
                wait_until(lambda: not due.exists(), "an end", log, only)
            held.refresh_from_db()
            assert (held.state, held.resends) == ("unknown", 0)   # its kind goes once at most: it waits for a person
            assert Message.objects.get(client=early, kind="visit_booked").state == "sent"
            found = ledger.wrong(post.copies(), {})
            assert not found, found
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA integrity_check")
                assert cursor.fetchone() == ("ok",)
    finally:
        post.shut()
    assert "Quill" not in log.read_text("utf-8", errors="replace")
