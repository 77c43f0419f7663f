"""Holding the outbox: nothing leaves, nothing is lost, and what came too late is not sent after all."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from clinic.people.refusal import NotThere, Refusal
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.actions.hold_messages import hold_messages
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.actions.release_messages import release_messages
from clinic.reminders.models import Hold, Message
from clinic.reminders.vocab import HoldReason

pytestmark = pytest.mark.django_db


@pytest.fixture
def waiting(cast, now):
    """waiting(hours) -> a test mail to Lou that is useful for so long."""

    def queued(hours: int) -> Message:
        return queue_message(
            by=cast.lead.user, kind="mail_check", to=cast.lead, about=f"test:{hours}", dedup_key=f"test:{hours}", due=now,
            not_after=now + timedelta(hours=hours), now=now,
        )

    return queued


def test_nothing_leaves_while_held_and_what_is_still_useful_leaves_afterwards(cast, now, waiting):
    short, long = waiting(1), waiting(8)
    hold_messages(by=cast.lead.user, why=HoldReason.BY_HAND, now=now)
    assert deliver_due(now=now, worker="w") == {}
    release_messages(by=cast.lead.user, now=now)
    deliver_due(now=now + timedelta(hours=2), worker="w")
    states = dict(Message.objects.values_list("about", "state"))
    assert states == {short.about: "skipped", long.about: "sent"}


def test_the_neighbour_without_a_hold_is_sent(now, waiting):
    waiting(8)
    assert deliver_due(now=now, worker="w") == {"sent": 1}


def test_holding_twice_is_one_hold_and_only_the_lead_decides(cast, now):
    for _ in range(2):
        hold_messages(by=cast.lead.user, why=HoldReason.BY_HAND, now=now)
    assert Hold.objects.count() == 1
    for action in (lambda: hold_messages(by=cast.desk.user, why=HoldReason.BY_HAND, now=now),
                   lambda: release_messages(by=cast.desk.user, now=now)):
        with pytest.raises(NotThere):
            action()
    release_messages(by=cast.lead.user, now=now)
    with pytest.raises(Refusal, match="not being held"):
        release_messages(by=cast.lead.user, now=now)


def test_the_page_says_so_and_only_the_lead_can_lift_it(cast, browse, now):
    hold_messages(by=None, why=HoldReason.RESTORED, now=now)
    pages = [browse(user).get(reverse("reminders:messages")) for user in (cast.lead.user, cast.desk.user)]
    lead, desk = (page.content.decode() for page in pages)
    assert "may have sent them already" in lead
    assert "may have sent them already" in desk
    assert ("Let messages leave again" in lead, "Let messages leave again" in desk) == (True, False)
    browse(cast.lead.user).post(reverse("reminders:release"))
    assert Hold.objects.get().lifted_by == cast.lead.user
