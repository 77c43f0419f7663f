from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from clinic.people.models import AuditEvent
from clinic.people.refusal import NotThere, Refusal
from clinic.reminders.actions.beat import beat
from clinic.reminders.actions.check_mail import check_mail
from clinic.reminders.actions.retry_message import retry_message
from clinic.reminders.models import Heartbeat, InboxMessage, Message
from clinic.reminders.queries import alarm_after, health, message_for, messages_for
from tests.conftest import NOW


def test_the_same_dedup_key_is_queued_once(queue):
    assert queue() is not None
    Message.objects.update(dedup_key="note:2")
    assert queue() is None
    assert Message.objects.count() == 1


@pytest.mark.parametrize("state", ["failed", "unknown"])
def test_a_failed_message_goes_back_into_the_queue_and_the_audit_names_who(queue, deliver, cast, state):
    message = queue()
    Message.objects.update(state=state, reason="refused", attempts=4, handed_over_at=NOW)
    retry_message(by=cast.desk.user, message=message, now=NOW)
    message.refresh_from_db()
    assert (message.state, message.reason, message.attempts, message.handed_over_at) == ("pending", "", 0, None)
    row = AuditEvent.objects.get(verb="retry_message")
    assert (row.by, row.client, row.detail) == (cast.desk.user, cast.ada, {"before": state})
    assert deliver() == {"sent": 1}


@pytest.mark.parametrize("state", ["pending", "claimed", "sent", "skipped"])
def test_only_a_failed_message_is_sent_again(queue, cast, state):
    message = queue()
    Message.objects.update(state=state)
    with pytest.raises(Refusal, match="Only a failed message") as refused:
        retry_message(by=cast.desk.user, message=message, now=NOW)
    assert refused.value.code == "not_retryable"


def test_a_message_that_would_come_too_late_is_not_sent_again(queue, cast):
    message = queue(useful=timedelta(hours=1))
    Message.objects.update(state="failed")
    with pytest.raises(Refusal, match="too late"):
        retry_message(by=cast.desk.user, message=message, now=NOW + timedelta(hours=1, seconds=1))
    retry_message(by=cast.desk.user, message=message, now=NOW + timedelta(hours=1))


def test_messages_are_for_the_desk_and_the_lead(queue, cast):
    queue(to=cast.mina)
    message = queue()
    for user, seen in [
        (cast.desk.user, 2), (cast.lead.user, 2), (cast.mina.user, 0), (cast.ada.user, 0), (cast.gone, 0)
    ]:
        assert messages_for(user).count() == seen
    assert message_for(cast.desk.user, message.public_id) == message
    with pytest.raises(NotThere):
        message_for(cast.mina.user, message.public_id)


def test_a_test_message_goes_to_who_asks_and_not_twice_a_minute(deliver, cast):
    check_mail(by=cast.desk.user, now=NOW)
    with pytest.raises(Refusal, match="Wait a minute"):
        check_mail(by=cast.desk.user, now=NOW + timedelta(seconds=30))
    check_mail(by=cast.lead.user, now=NOW)
    assert deliver() == {"sent": 2}
    mail = InboxMessage.objects.get(to="dara@harbour.example")
    assert mail.subject == "Mail from Harbour Lane works"
    assert "Hello Dara,\n\nyou asked for this test at 09:00 UTC." in mail.body


def test_a_heartbeat_never_goes_backwards(db):
    beat("deliver", NOW)
    beat("deliver", NOW - timedelta(minutes=1))
    assert Heartbeat.objects.get().at == NOW
    beat("deliver", NOW + timedelta(minutes=1))
    assert Heartbeat.objects.get().at == NOW + timedelta(minutes=1)


def test_health_is_late_after_a_few_ticks_and_five_minutes_at_most(db, settings):
    settings.TICK_SECONDS = 20
    assert health(NOW).worker == "never"
    beat("deliver", NOW)
    assert health(NOW + timedelta(seconds=100)).ready
    late = health(NOW + timedelta(seconds=101))
    assert (late.worker, late.age, late.ready) == ("late", 101, False)
    for tick, seconds in [(1, 60), (20, 100), (600, 300)]:
        settings.TICK_SECONDS = tick
        assert alarm_after() == timedelta(seconds=seconds)


def test_the_health_command_is_an_exit_status(db, capsys):
    with pytest.raises(CommandError, match="never"):
        call_command("health")
    beat("deliver", timezone.now())
    call_command("health")
    assert '"worker": "ok"' in capsys.readouterr().out
