from __future__ import annotations

import smtplib
import socket
from datetime import UTC, datetime, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.people.models import Client, Consent
from clinic.people.vocab import Channel
from clinic.reminders.batch import Clock
from clinic.reminders.models import Heartbeat, InboxMessage, Message
from tests.conftest import NOW
from tests.reminders import kinds
from tests.reminders.mailboxes import refused


def after(message: Message) -> tuple[str, str]:
    message.refresh_from_db()
    return message.state, message.reason


def test_a_due_message_arrives_once_in_the_words_of_its_kind(queue, deliver, settings):
    settings.PUBLIC_URL = "https://clinic.example"
    message = queue()
    assert deliver() == {"sent": 1}
    assert deliver() == {}
    mail = InboxMessage.objects.get()
    assert mail.to == "ada@client.example"
    assert mail.subject == "Note for Ada"
    assert mail.body == "note: Tuesday 10:00 at Harbour Lane, call +441632960100, see https://clinic.example/"
    assert mail.message_id == f"<{message.public_id}@intervale.example>"
    assert after(message) == ("sent", "")
    assert (message.attempts, message.resends, message.claimed_by) == (1, 0, "")
    assert abs(message.sent_at - NOW) < timedelta(seconds=10)


def test_what_is_not_due_waits(queue, deliver):
    queue(due=NOW + timedelta(hours=1))
    assert deliver() == {}
    assert deliver(hours=1) == {"sent": 1}


def test_the_oldest_due_go_first_and_a_batch_is_limited(queue, deliver):
    for minutes in (5, 30, 20):
        queue(due=NOW - timedelta(minutes=minutes), values={"day": f"{minutes}", "time": ""})
    assert deliver(limit=2) == {"sent": 2}
    assert [mail.body[:8] for mail in InboxMessage.objects.order_by("pk")] == ["note: 30", "note: 20"]
    assert deliver(limit=2) == {"sent": 1}


def test_the_words_are_in_the_clients_language_and_english_otherwise(queue, deliver, cast):
    Client.objects.filter(pk=cast.ada.pk).update(language="es-MX")
    Client.objects.filter(pk=cast.bo.pk).update(language="fr")
    queue()
    queue(to=cast.bo)
    deliver()
    assert sorted(InboxMessage.objects.values_list("subject", flat=True)) == ["Nota para Ada", "Note for Bo"]


def test_a_name_cannot_add_a_header(queue, deliver, cast):
    Client.objects.filter(pk=cast.ada.pk).update(given_name="Ada\r\nBcc: eve@x.example")
    queue()
    assert deliver() == {"sent": 1}
    assert InboxMessage.objects.get().subject == "Note for Ada Bcc: eve@x.example"


def test_staff_are_written_to_at_any_hour_and_without_a_consent_row(queue, deliver, cast):
    queue(to=cast.mina)
    assert deliver(hours=14) == {"sent": 1}
    assert InboxMessage.objects.get().to == "mina@harbour.example"


def test_consent_withdrawn_after_queueing_is_seen_at_sending(queue, deliver, cast):
    message, urgent = queue(), queue("urgent")
    Consent.objects.create(client=cast.ada, channel="email", granted=False, at=NOW, by=cast.ada.user)
    assert deliver() == {"skipped": 1, "sent": 1}
    assert after(message) == ("skipped", "no_consent")
    assert after(urgent) == ("sent", "")


@pytest.mark.parametrize(
    ("change", "reason"), [({"archived": NOW}, "archived"), ({"email": ""}, "no_address")], ids=["archived", "no address"]
)
def test_a_client_changed_after_queueing_is_seen_at_sending(queue, deliver, cast, change, reason):
    message = queue()
    Client.objects.filter(pk=cast.ada.pk).update(**change)
    assert deliver() == {"skipped": 1}
    assert after(message) == ("skipped", reason)
    assert not InboxMessage.objects.exists()


def test_a_deactivated_member_of_staff_gets_nothing(queue, deliver, cast):
    message = queue(to=cast.gone.staff)
    assert deliver() == {"skipped": 1}
    assert after(message) == ("skipped", "account_closed")


def test_a_changed_address_is_the_one_that_is_used(queue, deliver, cast):
    queue()
    Client.objects.filter(pk=cast.ada.pk).update(email="new@client.example")
    deliver()
    assert InboxMessage.objects.get().to == "new@client.example"


def test_a_message_that_is_no_longer_wanted_says_why(queue, deliver):
    message = queue()
    kinds.STATE["wanted"] = "cancelled"
    assert deliver() == {"skipped": 1}
    assert after(message) == ("skipped", "cancelled")


def test_a_late_reminder_expires(queue, deliver):
    message = queue(useful=timedelta(hours=1))
    assert deliver(hours=6) == {"skipped": 1}
    assert after(message) == ("skipped", "expired")


def test_quiet_hours_move_a_message_to_their_end_by_the_clients_clock(queue, deliver, cast):
    Client.objects.filter(pk=cast.ada.pk).update(zone="America/New_York", quiet_from=time(21), quiet_until=time(8))
    message, urgent = queue(), queue("urgent")
    assert deliver() == {"moved": 1, "sent": 1}   # it is four in the morning in New York
    assert after(message) == ("pending", "")
    assert message.due == datetime(2026, 3, 2, 13, 0, tzinfo=UTC)
    assert deliver(hours=3, minutes=59) == {}
    assert deliver(hours=4) == {"sent": 1}
    assert after(urgent) == ("sent", "")


def test_quiet_hours_that_end_too_late_skip_it(queue, deliver, cast):
    Client.objects.filter(pk=cast.ada.pk).update(zone="America/New_York")
    message = queue(useful=timedelta(hours=3))
    assert deliver() == {"skipped": 1}
    assert after(message) == ("skipped", "quiet_until_too_late")


def test_a_passing_refusal_is_tried_again_later_and_given_up_when_useless(queue, deliver, troubled):
    message = queue(useful=timedelta(minutes=10))
    troubled.SCRIPT[:] = [refused(451), smtplib.SMTPDataError(421, b"busy")]
    assert deliver() == {"later": 1}
    assert after(message) == ("pending", "")
    assert timedelta(seconds=29) < message.due - NOW < timedelta(seconds=70)
    assert deliver() == {}
    assert deliver(minutes=2) == {"later": 1}
    assert deliver(minutes=5) == {"sent": 1}
    message.refresh_from_db()
    assert message.attempts == 3

    other = queue(useful=timedelta(seconds=20))
    troubled.SCRIPT[:] = [refused(450)]
    assert deliver() == {"failed": 1}
    assert after(other) == ("failed", "gave_up")


@pytest.mark.parametrize(
    ("trouble", "reason"),
    [
        (refused(550), "no_such_address"),
        (ValueError("Invalid address"), "no_such_address"),
        (smtplib.SMTPDataError(554, b"no"), "refused"),
    ],
    ids=["550", "malformed", "554"],
)
def test_a_permanent_refusal_fails_with_its_reason(queue, deliver, troubled, trouble, reason):
    message = queue()
    troubled.SCRIPT[:] = [trouble]
    assert deliver() == {"failed": 1}
    assert after(message) == ("failed", reason)
    assert deliver(hours=1) == {}


@pytest.mark.parametrize(
    "trouble",
    [
        ConnectionRefusedError(),
        socket.gaierror(),
        TimeoutError(),
        smtplib.SMTPAuthenticationError(535, b"no"),
        smtplib.SMTPNotSupportedError(),
    ],
    ids=lambda trouble: type(trouble).__name__,
)
def test_a_mail_server_that_cannot_be_used_burns_no_attempts(queue, deliver, troubled, trouble):
    first, second = queue(), queue()
    troubled.OPEN[:] = [trouble]
    assert deliver() == {"paused": 2}
    assert Heartbeat.objects.filter(name="email-down").exists()
    assert after(first) == after(second) == ("pending", "")
    assert first.attempts == 0
    assert deliver(seconds=20) == {"sent": 2}
    assert not Heartbeat.objects.filter(name="email-down").exists()


def test_a_sender_that_is_refused_pauses_the_queue_too(queue, deliver, troubled):
    message = queue()
    queue()
    troubled.SCRIPT[:] = [smtplib.SMTPSenderRefused(530, b"sign in first", "clinic@intervale.example")]
    assert deliver() == {"paused": 2}
    assert after(message) == ("pending", "")
    assert message.attempts == 0


def test_a_connection_that_breaks_half_way_is_tried_once_more_and_then_left_to_a_person(queue, deliver, troubled):
    message, once = queue(), queue("once")
    troubled.SCRIPT[:] = [smtplib.SMTPServerDisconnected(), smtplib.SMTPServerDisconnected(), TimeoutError()]
    assert deliver() == {"resent": 1, "unknown": 1}
    assert after(message) == ("pending", "")
    assert message.resends == 1
    assert after(once) == ("unknown", "outcome_unknown")
    assert deliver(seconds=20) == {"unknown": 1}
    assert after(message) == ("unknown", "outcome_unknown")
    assert deliver(hours=1) == {}


def test_a_channel_the_clinic_does_not_have_fails_with_words(queue, deliver):
    message = queue(channel="sms")
    assert deliver() == {"failed": 1}
    assert after(message) == ("failed", "no_channel")


def test_a_kind_nobody_knows_any_more_fails(queue, deliver):
    message = queue()
    Message.objects.update(kind="gone")
    assert deliver() == {"failed": 1}
    assert after(message) == ("failed", "unknown_kind")


def test_a_broken_check_delays_its_own_message_only(queue, deliver, cast):
    broken = queue()
    queue(to=cast.bo)
    Client.objects.filter(pk=cast.ada.pk).update(zone="Nowhere/Atall")
    assert deliver() == {"later": 1, "sent": 1}
    assert after(broken) == ("pending", "")
    assert broken.attempts == 1


@pytest.mark.parametrize(("count", "groups"), [(1, 1), (3, 2), (7, 3)])
def test_a_delivery_takes_a_fixed_number_of_queries(queue, deliver, count, groups, monkeypatch):
    monkeypatch.setattr(Clock, "passed", lambda clock: 0.0)   # no machine is too slow for larger groups
    for _ in range(count):
        queue()
    with CaptureQueriesContext(connection) as queries:
        assert deliver() == {"sent": count}
    statements = [query["sql"] for query in queries if "SAVEPOINT" not in query["sql"]]
    # a run: whether it is held, three of leases, the channel's mark; each turn of the channels: what is due on each,
    # whether it is held; a group: which, claim, all about them, the record; a message: hand-over and box
    turns = len(Channel) + 2 * groups
    assert len(statements) == 5 + turns + 4 * groups + 2 * count
