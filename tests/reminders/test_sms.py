"""Text messages through a real gateway on this machine that misbehaves on command."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest

from clinic.people.models import Client, Consent
from clinic.reminders.models import Heartbeat, Suppression
from tests.conftest import NOW
from tests.reminders import gateway as gateways
from tests.reminders.processes import free_port


@pytest.fixture
def gateway(settings, cast):
    with gateways.running() as gateway:
        settings.SMS_URL, settings.SMS_KEY, settings.SMS_SECONDS = gateway.url, "a key", 5
        Consent.objects.create(client=cast.ada, channel="sms", granted=True, at=NOW, by=cast.ada.user)
        yield gateway


@pytest.fixture
def text(queue, gateway):
    """text(kind) -> a text message to Ada."""
    return lambda kind="note", **more: queue(kind, channel="sms", **more)


def after(message):
    message.refresh_from_db()
    return message.state, message.reason, message.resends


def test_a_text_arrives_with_its_number_its_words_and_its_id(text, deliver, gateway):
    message = text()
    assert deliver() == {"sent": 1}
    told, headers = gateway.texts[0], gateway.headers[0]
    assert told["to"] == "+447700900101"
    assert told["id"] == str(message.public_id) == headers["Idempotency-Key"]
    assert told["text"].startswith("note: Tuesday 10:00 at Harbour Lane")
    assert (headers["Authorization"], headers["Content-Type"]) == ("Bearer a key", "application/json")
    assert headers["path"] == "/send?from=clinic"
    assert after(message) == ("sent", "", 0)


@pytest.mark.parametrize(
    ("answer", "outcome", "state", "reason"),
    [
        ((200, {"error": "blocked"}), "failed", "failed", "refused"),
        ((200, {"error": "no_such_number"}), "failed", "failed", "no_such_address"),
        ((400, {"error": "no_such_number"}), "failed", "failed", "no_such_address"),
        ((400, b"<html>"), "failed", "failed", "refused"),
        ((404, {}), "failed", "failed", "refused"),
        ((408, {}), "later", "pending", ""),
        ((429, {}), "later", "pending", ""),
        ((500, {}), "later", "pending", ""),
        ((503, {"error": "no_such_number"}), "later", "pending", ""),
    ],
    ids=lambda value: str(value[0]) if isinstance(value, tuple) else "",
)
def test_an_answer_is_taken_at_its_word(text, deliver, gateway, answer, outcome, state, reason):
    message, other = text(), text("urgent")
    gateway.script[:] = [answer]
    assert deliver(limit=1) == {outcome: 1}
    assert after(message) == (state, reason, 0)
    Suppression.objects.all().delete()
    assert deliver(seconds=1)["sent"] == 1   # the gateway is not held against the next one
    assert after(other) == ("sent", "", 0)


@pytest.mark.parametrize(
    "answer",
    [(502, {}), (504, {}), (200, b"<html>taken"), (200, {}), (202, {"id": "another"}), (204, b""), "close", "cut"],
    ids=str,
)
def test_when_nobody_can_say_the_kind_decides(text, deliver, gateway, answer):
    message, once = text(), text("once")
    gateway.script[:] = [answer, answer, answer]
    assert deliver() == {"resent": 1, "unknown": 1}
    assert deliver(seconds=20) == {"unknown": 1}
    assert deliver(hours=2) == {}
    assert after(message) == ("unknown", "outcome_unknown", 1)
    assert after(once) == ("unknown", "outcome_unknown", 0)
    ids = [told["id"] for told in gateway.texts]
    assert (ids.count(str(message.public_id)), ids.count(str(once.public_id))) == (2, 1)


@pytest.mark.parametrize("answer", ["hang", "drip"])
def test_a_gateway_that_hangs_is_waited_for_so_long_and_no_longer(text, deliver, gateway, settings, answer):
    settings.SMS_SECONDS = 0.3
    once = text("once")
    gateway.script[:] = [answer]
    began = time.monotonic()
    assert deliver() == {"unknown": 1}
    assert time.monotonic() - began < 5   # a drip renews the limit of every single read
    assert after(once) == ("unknown", "outcome_unknown", 0)


@pytest.mark.parametrize("answer", [(401, {}), (403, {}), (307, {})], ids=str)
def test_our_own_fault_stops_the_channel_and_burns_nothing(text, deliver, gateway, answer):
    first, second = text(), text()
    gateway.script[:] = [answer]
    assert deliver() == {"paused": 2}
    assert Heartbeat.objects.filter(name="sms-down").exists()
    assert after(first) == after(second) == ("pending", "", 0)
    assert (first.attempts, len(gateway.texts)) == (0, 1)
    assert deliver(seconds=20) == {"sent": 2}
    assert not Heartbeat.objects.filter(name="sms-down").exists()


def test_a_gateway_that_is_not_there_leaves_texts_as_they_were_and_mail_goes_on(text, queue, deliver, settings):
    message = text()
    queue()
    settings.SMS_URL = f"http://127.0.0.1:{free_port()}/send"
    assert deliver() == {"paused": 1, "sent": 1}
    assert after(message) == ("pending", "", 0)
    settings.SMS_URL = settings.SMS_URL.replace("http:", "https:")   # and so does one without a certificate that holds
    assert deliver(seconds=20) == {"paused": 1}


def test_who_agreed_to_texts_and_not_to_mail_gets_texts_where_there_is_a_gateway(queue, gateway, cast, settings):
    assert queue(channel=None).channel == "email"   # both
    Consent.objects.create(client=cast.ada, channel="email", granted=False, at=NOW, by=cast.ada.user)
    assert queue(channel=None).channel == "sms"
    assert queue(channel=None, to=cast.mina).channel == "email"
    settings.SMS_URL = ""
    assert queue(channel=None).channel == "email"
    settings.SMS_URL = gateway.url
    Client.objects.filter(pk=cast.ada.pk).update(phone="")
    cast.ada.refresh_from_db()
    assert queue(channel=None).channel == "email"


def test_a_retry_after_a_passing_refusal_carries_the_same_id(text, deliver, gateway):
    message = text()
    gateway.script[:] = [(503, {})]
    assert deliver() == {"later": 1}
    assert deliver(minutes=2) == {"sent": 1}
    assert [told["id"] for told in gateway.texts] == [str(message.public_id)] * 2
    assert after(message) == ("sent", "", 0)


def test_quiet_hours_and_consent_hold_for_texts_too(text, deliver, gateway, cast):
    late = text(due=NOW + timedelta(hours=13))
    assert deliver(hours=13) == {"moved": 1}
    Consent.objects.create(client=cast.ada, channel="sms", granted=False, at=NOW, by=cast.ada.user)
    assert deliver(hours=24) == {"skipped": 1}
    assert after(late)[1] == "no_consent"
    assert gateway.texts == []
