"""At most so many a minute by each channel, whoever sends; and no channel that waits for another."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st

from clinic.people.models import Client
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.batch import Clock
from clinic.reminders.models import InboxMessage, Message, Pace
from clinic.reminders.rules.pace import moments
from tests.conftest import NOW

MINUTE = timedelta(minutes=1)


class Told(Clock):
    """A clock that moves when something sleeps, and a little with each look at it."""

    def __init__(self, now=NOW, look=0.0):
        super().__init__(now)
        self.seconds, self.look = 0.0, look

    def passed(self):
        self.seconds += self.look
        return self.seconds

    def sleep(self, seconds):
        self.seconds += seconds


@given(
    st.integers(1, 600), st.lists(st.tuples(st.integers(0, 90_000), st.integers(1, 60)), min_size=1, max_size=40),
    st.integers(0, 5000),
)
def test_no_minute_holds_more_than_its_number_whoever_asks_and_whenever(per_minute, asked, within):
    free, now, given_out = None, NOW, []
    for later, wanted in asked:   # several workers, one after another at the row
        now += timedelta(milliseconds=later)
        got, free = moments(
            free, now=now, wanted=wanted, per_minute=per_minute, within=timedelta(milliseconds=within)
        )
        assert len(got) <= wanted
        assert all(now <= each <= now + timedelta(milliseconds=within) for each in got)
        assert got or free > now + timedelta(milliseconds=within)
        given_out += got
    assert given_out == sorted(given_out)
    for index, each in enumerate(given_out):
        assert sum(other < each + MINUTE for other in given_out[index:]) <= per_minute


def test_a_pace_or_a_wish_below_one_is_refused():
    for wrong in ({"per_minute": 0, "wanted": 1}, {"per_minute": 5, "wanted": 0}):
        with pytest.raises(ValueError, match="1 at least"):
            moments(None, now=NOW, within=MINUTE, **wrong)


@pytest.mark.django_db
def test_five_hundred_at_nine_leave_at_their_pace_in_the_order_in_which_they_were_due(queue, settings):
    settings.MESSAGES_PER_MINUTE = {"email": 120}
    for number in range(500):
        queue(due=NOW - timedelta(seconds=number % 50), useful=timedelta(hours=2))
    sent, runs, now = [], 0, NOW
    while Message.objects.filter(state="pending").exists():
        clock = Told(now)
        counts = deliver_due(now=now, worker=f"w{runs % 2}", clock=clock)
        sent.append(counts["sent"])
        now = max(now + timedelta(seconds=20), clock.now())
        runs += 1
    assert sum(sent) == 500
    left = list(Message.objects.order_by("sent_at", "pk").values_list("sent_at", "due"))
    times = [at for at, _ in left]
    assert max(sum(first <= each < first + MINUTE for each in times) for first in times[::10]) <= 120
    assert timedelta(minutes=4) < times[-1] - times[0] < timedelta(minutes=6)
    assert [due for _, due in left] == sorted(due for _, due in left)


@pytest.mark.django_db
def test_a_channel_that_is_down_or_slow_holds_up_no_other(queue, deliver, cast, settings):
    settings.SMS_URL, settings.SMS_KEY = "http://127.0.0.1:9/", "key"   # nobody listens there
    Client.objects.filter(pk=cast.ada.pk).update(phone="+441632960999")
    for _ in range(80):
        queue("urgent", channel="sms", due=NOW - timedelta(hours=1))
    queue()
    assert deliver() == {"paused": 80, "sent": 1}
    settings.SMS_URL, settings.MESSAGES_PER_MINUTE = "", {"sms": 1}
    queue()
    assert deliver_due(now=NOW, worker="w", clock=Told(look=0.5))["sent"] == 1
    assert InboxMessage.objects.count() == 2


@pytest.mark.django_db
def test_without_a_limit_nothing_is_written_about_pace(queue, deliver):
    queue()
    deliver()
    assert not Pace.objects.exists()


@pytest.mark.django_db
def test_a_sweep_finds_what_is_due_by_the_index_of_what_waits(queue):
    from clinic.reminders.queries import waiting

    for _ in range(3):
        queue()
    Message.objects.filter(pk__gt=1).update(state="sent")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
    assert "message_waiting" in waiting("email", NOW)[:50].explain()
