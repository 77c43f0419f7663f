"""Many workers at once, on one outbox."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connections

from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.actions.release_leases import release_leases
from clinic.reminders.models import InboxMessage, Message
from tests.conftest import NOW

WORKERS = 4


def _at_once(work):
    barrier = Barrier(WORKERS)

    def one(number):
        try:
            barrier.wait(timeout=10)
            return work(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(WORKERS) as pool:
        return sum(pool.map(one, range(WORKERS)), Counter())


@pytest.mark.django_db(transaction=True)
def test_four_workers_in_the_same_tick_send_each_message_once(queue):
    for _ in range(12):
        queue()
    counts = _at_once(lambda number: deliver_due(now=NOW, worker=f"w{number}"))
    assert counts["sent"] == 12
    assert InboxMessage.objects.count() == 12
    assert len(set(InboxMessage.objects.values_list("message_id", flat=True))) == 12


@pytest.mark.django_db(transaction=True)
def test_four_workers_find_the_same_dead_claim_and_one_takes_it_back(queue):
    queue()
    Message.objects.update(state="claimed", claimed_by="dead#1", lease_until=NOW, handed_over_at=NOW)
    later = NOW.replace(hour=10)
    counts = _at_once(lambda number: release_leases(now=later))
    assert counts["resent"] == 1
    assert Message.objects.get().resends == 1
