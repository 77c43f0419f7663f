"""What a gateway reports: signed, of now, once; and in whatever order it comes."""

from __future__ import annotations

import json
import time
from datetime import timedelta
from itertools import permutations

import pytest
from django.db import connections

from clinic.people.models import Consent
from clinic.reminders.models import DeliveryReport, Message, Suppression
from clinic.reminders.rules.signed import signature
from tests.conftest import NOW
from tests.reminders import gateway as gateways

KEY = "whsec_" + "Zm9y" * 8


@pytest.fixture
def gateway(settings, cast):
    with gateways.running() as gateway:
        settings.SMS_URL, settings.SMS_KEY, settings.SMS_SECONDS, settings.SMS_SIGNING_KEY = gateway.url, "a key", 5, KEY
        Consent.objects.create(client=cast.ada, channel="sms", granted=True, at=NOW, by=cast.ada.user)
        yield gateway


@pytest.fixture
def report(browse, gateway):
    """report(message, status) -> the status of the answer, the report signed and of now unless told otherwise."""

    def sent(message, status="delivered", error="", number="r1", key=KEY, age=0, **body):
        told = {"id": str(message.public_id), "to": "+447700900101", "status": status, "error": error, **body}
        raw, at = json.dumps(told).encode(), int(time.time()) - age
        headers = {"webhook-id": number, "webhook-timestamp": str(at), "webhook-signature": signature(key, number, at, raw)}
        return browse().post("/reports/sms", raw, content_type="application/json", headers=headers).status_code

    return sent


@pytest.fixture
def text(queue, deliver, gateway):
    """text() -> a text message that the gateway took."""

    def sent(kind="note"):
        message = queue(kind, channel="sms")
        deliver()
        return message

    return sent


def after(message):
    message.refresh_from_db()
    return message.state, message.reason


def test_a_failed_report_says_so_on_the_list_and_a_dead_number_is_left_alone(report, text, queue, deliver, browse, cast):
    first, second = text(), text()
    assert (report(first, "failed", "busy"), report(second, "failed", "no_such_number", number="r2")) == (204, 204)
    assert after(first) == ("failed", "not_delivered")
    assert after(second) == ("failed", "no_such_address")
    assert Suppression.objects.get().address == "+447700900101"
    third = queue(channel="sms")
    assert deliver(minutes=1) == {"skipped": 1}
    assert after(third) == ("skipped", "suppressed")
    assert "The gateway could not bring it." in browse(cast.desk.user).get("/messages/").content.decode()


def test_a_report_about_a_number_that_was_changed_since_is_not_held_against_the_new_one(report, text, cast):
    message = text()
    assert report(message, "failed", "no_such_number", to="+447700900199") == 204
    assert after(message) == ("failed", "no_such_address")
    assert not Suppression.objects.exists()


@pytest.mark.parametrize(
    ("trick", "status"),
    [
        ({"key": "whsec_" + "eHh4" * 8}, 401), ({"age": 310}, 401), ({"age": -310}, 401), ({"number": ""}, 401),
        ({"number": "r" * 81}, 413),
    ],
    ids=str,
)
def test_forged_and_old_ones_change_nothing(report, text, trick, status):
    message = text()
    assert report(message, "failed", "no_such_number", **trick) == status
    assert after(message) == ("sent", "")
    assert not DeliveryReport.objects.exists()


def test_nonsense_that_is_signed_is_refused_and_a_stranger_s_message_is_no_news(report, text, browse, settings):
    message = text()
    assert [report(message, **wrong) for wrong in ({"status": "eaten"}, {"id": "x"}, {"to": None})] == [400] * 3
    assert report(message, id="8a1f7a52-6a0e-4a9e-9a3c-1d1f5b6b7c11") == 204
    assert not DeliveryReport.objects.exists()
    assert browse().get("/reports/sms").status_code == 405
    assert browse().post("/reports/sms", b"x" * 20000, content_type="application/json").status_code == 413
    settings.SMS_SIGNING_KEY = ""
    assert browse().post("/reports/sms").status_code == 404


def test_the_same_report_again_changes_nothing_even_after_the_message_was_sent_anew(report, text, deliver):
    message = text()
    assert report(message, "failed", "busy") == 204
    Message.objects.update(state="pending", reason="", attempts=0)   # the desk sends it again
    assert report(message, "failed", "busy") == 204
    assert after(message) == ("pending", "")
    assert deliver(minutes=1) == {"sent": 1}
    assert report(message, "failed", "busy") == 204
    assert after(message) == ("sent", "")
    assert DeliveryReport.objects.count() == 1


@pytest.mark.parametrize("order", list(permutations(["delivered", "busy", "no_such_number"])), ids=str)
def test_arrived_wins_in_whatever_order_they_come(report, text, order):
    message = text()
    for number, word in enumerate(order):
        status = "delivered" if word == "delivered" else "failed"
        assert report(message, status, "" if word == "delivered" else word, number=f"r{number}") == 204
    assert after(message) == ("sent", "")


@pytest.mark.parametrize(
    ("status", "answer", "state", "reason"),
    [
        ("delivered", (202, None), "sent", ""),
        ("delivered", "close", "sent", ""),           # the report knows what the answer did not say
        ("delivered", (503, {}), "sent", ""),         # the gateway lies: it is there, and is not sent a second time
        ("failed", (202, None), "failed", "not_delivered"),
        ("failed", "close", "failed", "not_delivered"),
    ],
    ids=str,
)
@pytest.mark.django_db(transaction=True)
def test_a_report_that_comes_before_our_own_record_ends_the_doubt(
    report, queue, deliver, gateway, status, answer, state, reason
):
    message = queue(channel="sms")
    codes = []

    def during(told):
        codes.append((Message.objects.get().state, report(message, status, "busy")))
        connections.close_all()   # those of the gateway's thread

    gateway.during = during
    gateway.script[:] = [(answer[0], {"id": str(message.public_id)}) if answer[-1:] == (None,) else answer]
    deliver()
    assert codes == [("claimed", 204)]
    assert after(message) == (state, reason)
    assert deliver(hours=1) == {}
    assert len(gateway.texts) == 1


def test_a_report_of_arrival_keeps_a_message_of_unknown_outcome_from_going_again(report, text, deliver, gateway):
    gateway.script[:] = ["close"]
    message = text()
    assert (after(message), message.resends) == (("pending", ""), 1)
    assert report(message) == 204
    assert deliver(minutes=5) == {}
    assert (after(message), len(gateway.texts)) == (("sent", ""), 1)


def test_a_message_that_was_never_handed_over_cannot_be_reported(report, queue):
    message = queue(channel="sms", due=NOW + timedelta(hours=1))
    assert report(message) == 204
    assert after(message) == ("pending", "")
