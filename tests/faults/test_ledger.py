"""The ledger itself: it names what does not add up, or it proves nothing of the faults."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta

import pytest

from clinic.people.queries import system_actor
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.channels import message_id
from clinic.reminders.models import Message
from tests.faults.ledger import wrong


@pytest.fixture
def row(cast, now):
    """row(**state) -> a message to the desk, of a kind that must not go twice unless told otherwise."""
    def made(kind="daily_digest", **state):
        message = queue_message(
            by=system_actor(), kind=kind, to=cast.desk, about="staff:1", dedup_key="one", due=now,
            not_after=now + timedelta(hours=1), now=now, values={"counts": "1 thing", "url": "/"},
        )
        Message.objects.update(**state)
        return message

    return made


@pytest.mark.parametrize(
    ("state", "copies", "right"),
    [
        ({"state": "sent"}, 1, True), ({"state": "sent"}, 0, False), ({"state": "sent"}, 2, False),
        ({"state": "skipped", "reason": "no_consent"}, 0, True), ({"state": "skipped", "reason": "no_consent"}, 1, False),
        ({"state": "skipped"}, 0, False), ({"state": "failed", "reason": "refused"}, 0, True),
        ({"state": "failed", "reason": "refused"}, 1, False), ({"state": "failed"}, 0, False),
        ({"state": "unknown", "reason": "outcome_unknown"}, 0, True),
        ({"state": "unknown", "reason": "outcome_unknown"}, 1, True),
        ({"state": "unknown", "reason": "outcome_unknown"}, 2, False),
        ({"state": "pending"}, 0, True), ({"state": "pending"}, 1, False),
        ({"state": "sent", "resends": 1}, 1, False), ({"state": "sent", "resends": 1}, 2, False),
        ({"state": "sent", "resends": 1, "kind": "visit_reminder"}, 2, True),
        ({"state": "sent", "resends": 1, "kind": "visit_reminder"}, 3, False),
    ],
)
def test_each_state_allows_so_many_copies(row, state, copies, right):
    message = row(**state)
    found = wrong(Counter({message_id(str(message.public_id)): copies}), Counter())
    assert (found == []) is right, found


def test_a_copy_without_a_row_and_a_text_sent_twice_are_named(row):
    message = row(state="sent", channel="sms")
    assert wrong(Counter(), Counter({str(message.public_id): 1})) == []
    assert len(wrong(Counter(), Counter({str(message.public_id): 2}))) == 1
    assert wrong(Counter({"<x@y>": 1}), Counter({str(message.public_id): 1})) == ["mail <x@y> is in no row"]
