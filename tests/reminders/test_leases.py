"""Claims, and what becomes of them when a worker dies."""

from __future__ import annotations

import smtplib
from datetime import timedelta

import pytest

from clinic.people.models import Client
from clinic.reminders.actions import deliver_due as module
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.actions.release_leases import release_leases, settle_unknown
from clinic.reminders.batch import Carriers, Clock
from clinic.reminders.group import Group
from clinic.reminders.inbox import InboxBackend
from clinic.reminders.lane import Lane
from clinic.reminders.models import InboxMessage, Message
from tests.conftest import NOW

LATER = NOW + timedelta(minutes=5)


def claim(message: Message, handed_over=None, lease_until=NOW + timedelta(minutes=2)) -> None:
    Message.objects.filter(pk=message.pk).update(
        state="claimed", claimed_by="dead#1", lease_until=lease_until, handed_over_at=handed_over, attempts=1
    )


def test_a_claim_that_still_holds_is_left_alone(queue, deliver):
    claim(queue())
    assert deliver(seconds=119) == {}


def test_a_claim_without_a_hand_over_goes_back_to_the_queue(queue, deliver):
    message = queue()
    claim(message)
    assert deliver(minutes=5) == {"released": 1, "sent": 1}
    message.refresh_from_db()
    assert message.resends == 0
    assert InboxMessage.objects.count() == 1


def test_a_hand_over_without_a_record_is_sent_again_once_and_counted(queue, deliver):
    message = queue()
    claim(message, handed_over=NOW)
    assert deliver(minutes=5) == {"resent": 1, "sent": 1}
    message.refresh_from_db()
    assert (message.state, message.resends) == ("sent", 1)


def test_of_several_that_a_dead_worker_took_only_the_last_handed_over_is_in_doubt(queue, deliver):
    first, second, third, never = (queue() for _ in range(4))
    for number, message in enumerate((first, second, third)):
        claim(message, handed_over=NOW + timedelta(seconds=number), lease_until=NOW + timedelta(seconds=120 + number))
    claim(never)
    assert release_leases(now=NOW + timedelta(seconds=121)) == {"sent": 1, "released": 1}   # the second's lease holds
    assert release_leases(now=LATER) == {"sent": 1, "resent": 1}
    states = [Message.objects.get(pk=each.pk) for each in (first, second, third, never)]
    assert [each.state for each in states] == ["sent", "sent", "pending", "pending"]
    assert [each.sent_at for each in states] == [NOW, NOW + timedelta(seconds=1), None, None]
    assert [each.resends for each in states] == [0, 0, 1, 0]


def test_two_handed_over_at_the_same_moment_are_both_in_doubt(queue):
    for message in (queue(), queue()):
        claim(message, handed_over=NOW)
    assert release_leases(now=LATER) == {"resent": 2}


def test_a_refusal_of_the_last_one_leaves_no_doubt_about_those_before(queue, deliver, troubled):
    for _ in range(3):   # taken as one and two
        queue()
    troubled.SCRIPT[:] = [None, None, smtplib.SMTPDataError(554, b"no")]
    refused = Lane._refused
    seen = []

    def looked(self, group, ready, reason):
        seen.extend(Message.objects.order_by("pk").values_list("state", flat=True))
        refused(self, group, ready, reason)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Lane, "_refused", looked)
        assert deliver() == {"sent": 2, "failed": 1}
    assert seen == ["sent", "sent", "claimed"]


def test_a_second_death_leaves_it_to_a_person(queue, deliver):
    message = queue()
    Message.objects.update(resends=1)
    claim(message, handed_over=NOW)
    assert deliver(minutes=5) == {"unknown": 1}
    message.refresh_from_db()
    assert (message.state, message.reason, message.handed_over_at) == ("unknown", "outcome_unknown", NOW)


def test_a_kind_that_must_not_go_twice_is_held_at_the_first_death(queue, deliver):
    message = queue("once")
    claim(message, handed_over=NOW)
    assert deliver(minutes=5) == {"unknown": 1}
    message.refresh_from_db()
    assert (message.state, message.resends) == ("unknown", 0)


def test_what_would_come_too_late_is_not_sent_again(queue):
    message = queue(useful=timedelta(minutes=1))
    claim(message, handed_over=NOW)
    assert release_leases(now=LATER) == {"unknown": 1}


def test_two_that_settle_the_same_claim_do_it_once(queue):
    message = queue()
    claim(message, handed_over=NOW)
    settled = [settle_unknown(pk=message.pk, token="dead#1", kind="note", now=LATER) for _ in range(2)]
    assert settled == ["resent", "taken"]
    message.refresh_from_db()
    assert message.resends == 1


def test_a_row_another_worker_took_meanwhile_is_passed_over(queue, deliver, monkeypatch):
    message, kept = queue(), Carriers.get

    def taken(self, channel, now):
        claim(message)
        return kept(self, channel, now)

    monkeypatch.setattr(Carriers, "get", taken)
    assert deliver() == {}
    assert not InboxMessage.objects.exists()


def test_a_row_that_is_lost_between_judging_and_leaving_does_not_leave(queue, deliver, monkeypatch):
    message, kept = queue(), Group.hand_over

    def lost(self, key):
        claim(message)
        return kept(self, key)

    monkeypatch.setattr(Group, "hand_over", lost)
    assert deliver() == {"taken": 1}
    assert not InboxMessage.objects.exists()


def test_a_judgement_that_has_grown_old_is_made_again(queue, deliver, monkeypatch, cast):
    for _ in range(7):   # taken as one, two and four
        queue()
    seconds = [0.0]

    class SlowAtTheFourth(InboxBackend):
        def send_messages(self, mails):
            if InboxMessage.objects.count() == 3:
                seconds[0] += 2
                Client.objects.filter(pk=cast.ada.pk).update(archived=NOW)
            return super().send_messages(mails)

    monkeypatch.setattr(Clock, "passed", lambda clock: seconds[0])
    monkeypatch.setattr("clinic.reminders.channels.get_connection", SlowAtTheFourth)
    assert deliver() == {"sent": 4, "skipped": 3}
    assert not Message.objects.exclude(claimed_by="").exists()


def test_a_worker_slower_than_its_lease_still_ends_the_doubt(queue, monkeypatch):
    message = queue()

    class Slow(InboxBackend):
        def send_messages(self, mails):
            Message.objects.update(lease_until=NOW - timedelta(seconds=1))
            release_leases(now=NOW)
            return super().send_messages(mails)

    monkeypatch.setattr("clinic.reminders.channels.get_connection", Slow)
    assert deliver_due(now=NOW, worker="slow") == {"sent": 1}
    message.refresh_from_db()
    assert (message.state, message.resends) == ("sent", 1)
    assert deliver_due(now=LATER, worker="other") == {}
    assert InboxMessage.objects.count() == 1


def test_a_batch_ends_when_its_time_is_over(queue, deliver, monkeypatch):
    queue()
    monkeypatch.setattr(module, "RUN_SECONDS", -1)
    assert deliver() == {}
    monkeypatch.setattr(module, "RUN_SECONDS", 60)
    assert deliver() == {"sent": 1}
