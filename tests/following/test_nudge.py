"""The reminder of the day's session: by the client's wish, once a day, and only while the day still asks for something."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from uuid import uuid4

import pytest

from clinic.people.models import Client, Consent, Episode, User
from clinic.people.queries import system_actor
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.models import InboxMessage, Message
from programs.following.actions.choose_nudge import choose_nudge
from programs.following.actions.close_alert import close_alert
from programs.following.actions.plan_nudges import plan_nudges
from programs.following.actions.raise_alert import raise_alert
from programs.following.models import DayNudge
from programs.following.nudging import reasons
from programs.following.rules import nudge
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.resume_program import resume_program
from programs.prescribing.models import Program
from tests.following.conftest import START, hip_plan
from tests.reminders import minute_clock as wall
from tests.reminders.test_clock_changes import named

SIX = datetime(2026, 3, 2, 18, tzinfo=UTC)   # London is on UTC until 29 March
REASONS_QUERIES = 8   # wish, alerts, programs, three of plans with their exercises, pauses, logs


@pytest.fixture(autouse=True)
def _box(settings):
    settings.EMAIL_BACKEND = "clinic.reminders.inbox.InboxBackend"


@pytest.fixture
def wish(cast, program, now):
    """Ada wants to be reminded at six."""
    return choose_nudge(by=cast.ada.user, at=time(18), now=now)


def plan(at: datetime = SIX) -> int:
    return plan_nudges(by=system_actor(), now=at)


def deliver(at: datetime = SIX) -> dict[str, int]:
    return dict(deliver_due(now=at, worker="tests"))


def test_nobody_is_reminded_who_did_not_wish_for_it(program):
    assert plan() == 0
    assert not Message.objects.filter(kind="day_nudge").exists()


def test_it_comes_once_at_the_hour_and_says_a_first_name_and_a_time(wish, cast):
    assert [plan(SIX - timedelta(minutes=1)), plan(), plan(SIX + timedelta(minutes=5))] == [0, 1, 0]
    message = Message.objects.get(kind="day_nudge")
    assert (message.kind, message.due, message.not_after) == ("day_nudge", SIX, SIX + timedelta(hours=3))
    assert message.values == {"first_name": "Ada", "time": "18:00", "url": "/portal/"}
    assert deliver() == {"sent": 1}
    letter = InboxMessage.objects.get()
    assert "Hello Ada" in letter.body
    assert "18:00" in letter.body
    assert not any(word in letter.body + letter.subject for word in ("Quill", "Hip", "hip", "Mina", "Bridge"))


def test_in_spanish_for_who_reads_it(wish, cast):
    Client.objects.filter(pk=cast.ada.pk).update(language="es")
    plan()
    deliver()
    assert "Hola, Ada:" in InboxMessage.objects.get().body


def test_another_hour_chosen_the_same_day_brings_no_second_one(wish, cast):
    plan()
    choose_nudge(by=cast.ada.user, at=time(19), now=SIX + timedelta(minutes=5))
    assert plan(SIX + timedelta(hours=1)) == 0
    assert plan(SIX + timedelta(days=1, hours=1)) == 1


def test_an_hour_that_has_passed_begins_tomorrow(cast, program, now):
    row = choose_nudge(by=cast.ada.user, at=time(9), now=now)
    assert row.next_at == now + timedelta(days=1)
    assert [plan(now), plan(now + timedelta(hours=1)), plan(now + timedelta(days=1))] == [0, 0, 1]


def test_a_day_with_a_log_asks_no_more(wish, report):
    report(0)
    assert plan() == 0
    assert plan(SIX + timedelta(days=1)) == 1


def test_a_day_of_rest_asks_for_nothing(cast, shelf, now):
    """Two sessions a week from the first day on: on five of seven days nothing is asked."""
    whole = hip_plan()
    prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=replace(whole, phases=whole.phases[2:]), title="Hip", starts=START,
        now=now,
    )
    choose_nudge(by=cast.ada.user, at=time(18), now=now)
    assert sum(plan(SIX + timedelta(days=day)) for day in range(7)) == 2


@pytest.mark.parametrize(
    ("happens", "reason"),
    [
        ("log", "already_logged"), ("pause", "program_paused"), ("end", "program_ended"), ("alert", "alert_open"),
        ("wish", "wish_ended"), ("zone", "day_over"), ("consent", "no_consent"),
    ],
)
def test_what_happens_between_planning_and_sending_counts(wish, cast, program, report, happens, reason):
    assert plan() == 1
    if happens == "log":
        report(0)
    elif happens == "pause":
        pause_program(by=cast.mina.user, program=program, reason="Away", now=SIX)
    elif happens == "end":
        end_program(by=cast.mina.user, program=program, status="completed", now=SIX)
    elif happens == "alert":
        raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="chest_pain", now=SIX)
    elif happens == "wish":
        choose_nudge(by=cast.ada.user, at=None, now=SIX)
    elif happens == "zone":
        Client.objects.filter(pk=cast.ada.pk).update(zone="Pacific/Auckland", quiet_from=time(0), quiet_until=time(0))
    else:
        Consent.objects.create(client=cast.ada, channel="email", granted=False, at=SIX, by=cast.ada.user)
    deliver()
    message = Message.objects.get(kind="day_nudge")
    assert (message.state, message.reason) == ("skipped", reason)


def test_while_an_answer_asks_for_a_person_nobody_is_told_to_exercise(wish, cast):
    alert = raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="chest_pain", now=SIX)
    assert plan() == 0
    close_alert(by=cast.mina.user, alert=alert, note="Seen; fine", now=SIX + timedelta(hours=1))
    assert plan(SIX + timedelta(days=1)) == 1


def test_a_pause_that_is_over_counts_no_more(wish, cast, program):
    pause_program(by=cast.mina.user, program=program, reason="Away", now=SIX - timedelta(hours=1))
    assert plan() == 0
    resume_program(by=cast.mina.user, program=Program.objects.get(), now=SIX + timedelta(hours=1))
    assert plan(SIX + timedelta(days=1)) == 1


def test_hours_late_it_is_not_sent_and_a_standstill_is_not_made_up_for(wish):
    plan()
    assert deliver(SIX + timedelta(hours=3, minutes=1)) == {"skipped": 1}
    assert Message.objects.get(kind="day_nudge").reason in ("expired", "quiet_until_too_late")
    assert plan(SIX + timedelta(days=1, hours=3, minutes=1)) == 0
    assert plan(SIX + timedelta(days=4)) == 1


def test_quiet_hours_that_were_widened_elsewhere_hold_it_back(wish, cast):
    plan()
    Client.objects.filter(pk=cast.ada.pk).update(quiet_from=time(17), quiet_until=time(20))
    assert deliver() == {"moved": 1}
    assert Message.objects.get(kind="day_nudge").due == SIX + timedelta(hours=2)
    assert deliver(SIX + timedelta(hours=2)) == {"sent": 1}


def test_an_archived_client_is_left_alone(wish, cast):
    Client.objects.filter(pk=cast.ada.pk).update(archived=SIX)
    assert plan() == 0


@pytest.mark.parametrize("at", [time(18, 15), time(18, 0, 1), time(21), time(7, 30)])
def test_times_that_cannot_be_are_refused_and_nothing_changes(wish, cast, at):
    with pytest.raises(Refusal) as refusal:
        choose_nudge(by=cast.ada.user, at=at, now=SIX)
    assert list(refusal.value.fields) == ["nudge_at"]
    assert DayNudge.objects.get().at == time(18)


def test_each_client_chooses_for_themselves(cast, program, now):
    for who in (cast.mina, cast.desk):
        with pytest.raises(NotThere):
            choose_nudge(by=who.user, at=time(18), now=now)
    choose_nudge(by=cast.bo.user, at=time(18), now=now)
    assert [row.client for row in DayNudge.objects.all()] == [cast.bo]


@pytest.mark.parametrize("many", [1, 12])
def test_what_is_asked_about_many_costs_the_same_as_about_one(cast, program, now, many, django_assert_num_queries):
    keys = [_another(cast, number, now).pk for number in range(many)]
    with django_assert_num_queries(REASONS_QUERIES):
        assert set(reasons(keys, START).values()) == {""}
    assert plan() == many


def test_wishes_that_are_not_due_are_not_looked_at(cast, program, now, django_assert_num_queries):
    for number in range(5):
        _another(cast, number, now)
    with django_assert_num_queries(3):   # two of them the marks of a transaction inside the test's own
        assert plan_nudges(by=cast.desk.user, now=SIX - timedelta(minutes=1)) == 0


def test_more_than_one_lot_is_planned_in_one_go(cast, program, now, monkeypatch):
    monkeypatch.setattr("programs.following.actions.plan_nudges.LOT", 2)
    for number in range(5):
        _another(cast, number, now)
    assert plan() == 5


@named
@pytest.mark.parametrize("at", [time(0), time(1, 30), time(2), time(18), time(23, 30)])
def test_it_is_due_once_a_day_when_the_wall_first_shows_the_hour(zone, change, at):
    """Against the clock that is walked minute by minute, over every clock change of the four zones."""
    walked = wall.minutes(change - timedelta(hours=60), change + timedelta(hours=84), zone)
    days = [wall.nth_day(walked, count) for count in range(1, 5)]
    moment = wall.first_shown(walked, days[0], time(0)) - wall.MINUTE
    for day in days:
        due = wall.first_shown(walked, day, at)
        assert nudge.next_after(moment, at, zone) == due, day
        _, until = nudge.window(day, at, zone)
        last = [each.utc for each in walked if each.day == day][-1]
        assert until == min(due + timedelta(hours=3), last + wall.MINUTE), day
        moment = due


@named
def test_it_is_planned_in_that_minute_and_once_that_day(zone, change, cast, shelf, now):
    Client.objects.filter(pk=cast.ada.pk).update(zone=zone, quiet_from=time(12), quiet_until=time(12))
    cast.ada.refresh_from_db()
    cast.ada_hip.refresh_from_db()
    walked = wall.minutes(change - timedelta(hours=60), change + timedelta(hours=60), zone)
    begin = walked[0].utc
    prescribe_program(
        by=cast.mina.user, episode=Episode.objects.get(pk=cast.ada_hip.pk), plan=hip_plan(walked[0].day), title="Hip",
        starts=walked[0].day, now=begin, screening_reason="Asked on paper at the first visit",
    )
    choose_nudge(by=cast.ada.user, at=time(1, 30), now=begin)
    for count in (1, 2, 3):
        due = wall.first_shown(walked, wall.nth_day(walked, count), time(1, 30))
        assert [plan(due + wall.MINUTE * step) for step in (-1, 0, 1, 60)] == [0, 1, 0, 0]
    assert Message.objects.filter(kind="day_nudge").count() == 3


def _another(cast, number: int, now: datetime) -> Client:
    """One more client of Mina's with Ada's plan and her wish."""
    user = User.objects.create_user(f"other{number}@client.example", Role.CLIENT)
    client = Client.objects.create(
        user=user, site=cast.site, given_name=f"Other{number}", email=user.email, zone=cast.site.zone, registered=now,
        language="en",
    )
    episode = Episode.objects.create(
        client=client, lead=cast.mina, region="hip", side="left", complaint="Stiff", opened=now.date()
    )
    prescribe_program(
        by=cast.mina.user, episode=episode, plan=hip_plan(), title="Hip", starts=START, now=now,
        screening_reason="Asked on paper at the first visit",
    )
    choose_nudge(by=user, at=time(18), now=now)
    return client
