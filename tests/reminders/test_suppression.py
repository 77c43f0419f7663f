"""An address that does not exist is left alone until the desk says otherwise."""

from __future__ import annotations

import pytest
from django.urls import reverse

from clinic.people.models import AuditEvent, Client, Consent
from clinic.people.refusal import Refusal
from clinic.reminders.actions.lift_suppression import lift_suppression
from clinic.reminders.models import InboxMessage, Message, Suppression
from tests.conftest import NOW
from tests.reminders.mailboxes import refused

PAGE = "/messages/addresses/"


@pytest.fixture
def dead(queue, deliver, troubled):
    """Ada's mail address was refused as unknown."""
    queue()
    troubled.SCRIPT[:] = [refused(550)]
    assert deliver() == {"failed": 1}
    return Suppression.objects.get()


def test_nothing_more_goes_there_and_everybody_else_gets_theirs(dead, queue, deliver, cast):
    message = queue()
    queue(to=cast.bo)
    assert deliver(minutes=1) == {"skipped": 1, "sent": 1}
    message.refresh_from_db()
    assert message.reason == "suppressed"
    assert InboxMessage.objects.get().to == "bo@client.example"
    assert (dead.channel, dead.address, dead.client) == ("email", "ada@client.example", cast.ada)


def test_it_is_about_the_address_in_any_case_and_not_about_the_person(dead, queue, deliver, cast):
    Client.objects.filter(pk=cast.ada.pk).update(email="Ada@Client.example")
    queue()
    assert deliver(minutes=1) == {"skipped": 1}
    Client.objects.filter(pk=cast.ada.pk).update(email="ada@new.example")
    queue()
    assert deliver(minutes=2) == {"sent": 1}


def test_a_text_still_goes_to_whoever_has_no_mail(dead, queue, deliver, cast, monkeypatch):
    monkeypatch.setattr("clinic.reminders.batch.carrier_for", lambda channel: Taken())
    Consent.objects.create(client=cast.ada, channel="sms", granted=True, at=NOW, by=cast.ada.user)
    queue(channel="sms")
    assert deliver(minutes=1) == {"sent": 1}


class Taken:
    """A way out that takes everything."""

    def open(self):
        """Is open."""

    def send(self, letter):
        """Takes it."""

    def close(self):
        """Is closed."""


@pytest.mark.parametrize("code", [451, 552])
def test_a_passing_refusal_suppresses_nothing(queue, deliver, troubled, code):
    queue()
    troubled.SCRIPT[:] = [refused(code)]
    assert deliver() == {"later": 1}
    assert not Suppression.objects.exists()


def test_the_desk_lifts_it_with_a_reason_and_the_trail_holds_no_words(dead, queue, deliver, browse, cast):
    browser = browse(cast.desk.user)
    page = browser.get(PAGE).content.decode()
    assert "Ada Quill" in page
    assert "ada@client.example" in page
    answer = browser.post(reverse("reminders:lift", args=[dead.public_id]), {"why": "   "})
    assert (answer.status_code, "Say why it will work now." in answer.content.decode()) == (400, True)
    long = "It is spelt right " * 20
    assert long.strip() in browser.post(reverse("reminders:lift", args=[dead.public_id]), {"why": long}).content.decode()
    page = browser.post(reverse("reminders:lift", args=[dead.public_id]), {"why": "The server was wrong"}, follow=True)
    assert "Every address works, as far as we were told." in page.content.decode()
    dead.refresh_from_db()
    assert (dead.lifted_by, dead.lifted_why) == (cast.desk.user, "The server was wrong")
    trail = list(AuditEvent.objects.filter(record__startswith="suppression:").order_by("pk").values_list("verb", "detail"))
    assert trail == [("suppress_address", {"channel": "email"}), ("lift_suppression", {"channel": "email"})]
    queue()
    assert deliver(minutes=3) == {"sent": 1}


def test_lifting_twice_is_refused_and_a_second_bounce_suppresses_anew(dead, queue, deliver, troubled, cast):
    lift_suppression(by=cast.desk.user, suppression=dead, why="Try", now=NOW)
    with pytest.raises(Refusal, match="already"):
        lift_suppression(by=cast.desk.user, suppression=dead, why="Try", now=NOW)
    queue()
    troubled.SCRIPT[:] = [refused(550)]
    assert deliver(minutes=1) == {"failed": 1}
    assert Suppression.objects.filter(lifted_at__isnull=True).count() == 1


def test_the_list_of_messages_leads_there_only_while_there_are_some(queue, dead, browse, cast):
    browser = browse(cast.lead.user)
    assert "Addresses that do not work: 1" in browser.get("/messages/").content.decode()
    assert Message.objects.get().reason == "no_such_address"
    lift_suppression(by=cast.lead.user, suppression=dead, why="Try", now=NOW)
    assert "Addresses that do not work" not in browser.get("/messages/").content.decode()


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_takes_the_same_number_of_queries(cast, browse, count, django_assert_num_queries):
    for number in range(count):
        Suppression.objects.create(channel="email", address=f"{number}@x.example", client=cast.ada, since=NOW)
    browser = browse(cast.desk.user)
    with django_assert_num_queries(8):
        page = browser.get(PAGE).content.decode()
    assert page.count("Try this address again") == count
