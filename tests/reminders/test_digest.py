"""The daily digest: one a person and local day, at an hour of their site, numbers only."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import ImproperlyConfigured

from clinic.booking.actions.book_visit import book_visit
from clinic.people.models import Site
from clinic.people.queries import system_actor
from clinic.project import environment
from clinic.reminders.actions.plan_digests import plan_digests
from clinic.reminders.models import InboxMessage, Message
from programs.following.models import Alert

MORNING = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)   # seven in London


def plan(now=MORNING):
    return plan_digests(by=system_actor(), now=now)


@pytest.fixture
def alert(cast):
    """Ada, Mina's client, answered that something is wrong."""
    return Alert.objects.create(answer_id=uuid4(), client=cast.ada, flag="chest_pain", at=MORNING)


def digests():
    rows = Message.objects.filter(kind="daily_digest").select_related("staff")
    return {row.staff.name: row.values["counts"] for row in rows}


def test_it_says_numbers_and_no_names(alert, cast, deliver):
    assert plan() == 2
    assert digests() == {"Mina": "1 open alert", "Dara": "1 open alert"}   # nothing waits for Theo; Lou leads
    Alert.objects.create(answer_id=uuid4(), client=cast.bo, flag="chest_pain", at=MORNING)
    assert deliver(hours=-2) == {"sent": 2}
    mail = InboxMessage.objects.get(to="mina@harbour.example")
    assert mail.subject == "Today at Harbour Lane"
    assert mail.body.startswith("Good morning Mina,\n\n1 open alert.\n\nSign in to see them:\n")
    for word in ("Ada", "Quill", "chest", str(cast.ada.public_id)):
        assert word not in mail.subject + mail.body


def test_it_comes_once_a_day_however_often_it_is_planned(alert):
    assert [plan(MORNING + timedelta(minutes=minutes)) for minutes in (-1, 0, 0, 5, 239)] == [0, 2, 0, 0, 0]
    assert plan(MORNING + timedelta(days=1)) == 2


def test_each_counts_what_is_theirs(cast):
    for client, clinician, hour in ((cast.ada, cast.mina, 10), (cast.ada, cast.mina, 14), (cast.bo, cast.theo, 10)):
        book_visit(
            by=cast.desk.user, client=client, clinician=clinician, visit_type=cast.follow_up,
            start=datetime(2026, 3, 2, hour, tzinfo=UTC), now=MORNING - timedelta(days=3),
        )
    Message.objects.all().delete()
    Message.objects.create(
        kind="mail_check", client=cast.ada, about="x:1", dedup_key="x", due=MORNING, not_after=MORNING, state="failed",
        created=MORNING,
    )
    assert plan() == 3
    assert digests() == {
        "Mina": "2 visits today", "Theo": "1 visit today", "Dara": "1 message to look at; 3 visits today",
    }
    assert plan(datetime(2026, 3, 3, 7, tzinfo=UTC)) == 1   # tomorrow only the message waits


def test_the_hour_is_the_sites_own_on_both_clock_changes(alert, cast):
    """London, 29 March and 25 October 2026 (IANA zone data): seven o'clock is 6 UTC in summer and 7 UTC in winter."""
    for day, hour in ((date(2026, 3, 28), 7), (date(2026, 3, 29), 6), (date(2026, 10, 24), 6), (date(2026, 10, 25), 7)):
        at = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
        assert [plan(at - timedelta(minutes=1)), plan(at)] == [0, 2], day
    Site.objects.filter(pk=cast.site.pk).update(zone="Asia/Kolkata")
    assert [plan(datetime(2026, 5, 1, 1, 29, tzinfo=UTC)), plan(datetime(2026, 5, 1, 1, 30, tzinfo=UTC))] == [0, 2]


def test_what_is_done_by_the_time_it_leaves_is_not_announced(alert, deliver):
    plan()
    Alert.objects.update(closed_at=MORNING, note="called")
    assert deliver(hours=-2) == {"skipped": 2}
    assert set(Message.objects.values_list("reason", flat=True)) == {"nothing_waits"}


def test_whoever_changed_roles_meanwhile_gets_none(alert, cast, deliver):
    plan()
    cast.mina.user.role = "lead"
    cast.mina.user.save()
    assert deliver(hours=-2) == {"sent": 1, "skipped": 1}
    assert Message.objects.get(staff=cast.mina).reason == "other_role"


def test_it_is_useless_at_noon_and_can_be_left_off(alert, deliver, settings):
    plan()
    assert deliver(hours=3) == {"skipped": 2}
    assert plan(MORNING + timedelta(days=1, hours=4, minutes=1)) == 0
    settings.DIGEST_HOUR = None
    assert plan(MORNING + timedelta(days=2)) == 0


@pytest.mark.parametrize(("text", "hour"), [("0", 0), ("23", 23), ("off", None)])
def test_the_hour_is_read_from_the_environment(monkeypatch, text, hour):
    monkeypatch.setenv("INTERVALE_DIGEST_HOUR", text)
    assert environment.hour("INTERVALE_DIGEST_HOUR", "7") == hour


@pytest.mark.parametrize("text", ["24", "-1", "seven", "7.5"])
def test_an_hour_that_is_none_is_refused(monkeypatch, text):
    monkeypatch.setenv("INTERVALE_DIGEST_HOUR", text)
    with pytest.raises(ImproperlyConfigured, match="INTERVALE_DIGEST_HOUR"):
        environment.hour("INTERVALE_DIGEST_HOUR", "7")


@pytest.mark.parametrize("again", [1, 3])
def test_a_tick_after_the_digests_takes_the_same_few_queries(alert, cast, again, django_assert_num_queries):
    Alert.objects.create(answer_id=uuid4(), client=cast.bo, flag="chest_pain", at=MORNING)
    assert plan() == 3
    for _ in range(again):
        with django_assert_num_queries(6):   # two of them the marks of a transaction inside the test's own
            assert plan() == 0
