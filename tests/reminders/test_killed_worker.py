"""A real Celery worker is killed with SIGKILL at four points of a delivery; a second one takes over."""

from __future__ import annotations

import sys
from collections import Counter
from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.people.queries import system_actor
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import InboxMessage, Message
from tests.reminders.processes import environment, kill, running, wait_until

WORKER = [
    sys.executable, "-m", "celery", "-A", "tests.reminders.worker_app", "worker", "--beat", "--concurrency", "4",
    "--without-gossip", "--without-mingle", "--loglevel", "warning",
]
HANDED_OVER = ("before", "after", "hold")


def _queue(client, kind: str) -> Message:
    now = timezone.now()
    return queue_message(
        by=system_actor(), kind=kind, to=client, about="test:1", dedup_key=kind, due=now,
        not_after=now + timedelta(hours=1), now=now, values={"day": "Tuesday", "time": "10:00"},
    )


@pytest.mark.django_db(transaction=True)
def test_a_worker_killed_in_a_delivery_loses_nothing_and_doubles_nothing(cast, tmp_path):
    queued = {point: _queue(cast.ada, f"stall_{point}") for point in HANDED_OVER}
    env = environment(
        tmp_path, INTERVALE_WORKER="1", INTERVALE_TICK_SECONDS="0.3", INTERVALE_LEASE_SECONDS="900",
        INTERVALE_EMAIL_BACKEND="tests.reminders.mailboxes.StallingInbox",
    )
    log = tmp_path / "log"

    with running(WORKER, {**env, "INTERVALE_TEST_STALL": str(tmp_path)}, log) as victim:
        wait_until(lambda: all((tmp_path / point).exists() for point in HANDED_OVER), "each hand-over", log, victim)
        # last, since its check stalls inside a transaction, which keeps every other writer of SQLite waiting
        queued["check"] = _queue(cast.ada, "stall_check")
        wait_until(lambda: (tmp_path / "check").exists(), "the check", log, victim)
        kill(victim)
    stuck = {message.kind: message for message in Message.objects.all()}
    assert {message.state for message in stuck.values()} == {"claimed"}
    # claimed but not handed over; handed over but still here; arrived but not recorded
    assert [kind for kind, message in stuck.items() if message.handed_over_at is None] == ["stall_check"]
    assert {mail.body.split(":")[0] for mail in InboxMessage.objects.all()} == {"stall_after", "stall_hold"}
    Message.objects.update(lease_until=timezone.now() - timedelta(seconds=1))   # rather than wait for it

    with running(WORKER, env, log) as survivor:
        wait_until(lambda: not Message.objects.filter(state__in=["claimed", "pending"]).exists(), "an end", log, survivor)

    for message in queued.values():
        message.refresh_from_db()
    assert {point: (message.state, message.resends) for point, message in queued.items()} == {
        "check": ("sent", 0),       # never left: sent once
        "before": ("sent", 1),      # handed over, never left: sent again, arrived once
        "after": ("sent", 1),       # arrived unrecorded: sent again at most once, counted
        "hold": ("unknown", 0),     # a kind that must not go twice: for a person
    }
    copies = Counter(mail.body.split(":")[0] for mail in InboxMessage.objects.all())
    assert copies == {"stall_check": 1, "stall_before": 1, "stall_after": 2, "stall_hold": 1}
    references = set(InboxMessage.objects.filter(body__startswith="stall_after").values_list("message_id", flat=True))
    assert references == {f"<{queued['after'].public_id}@intervale.example>"}   # the two can be told to be one
