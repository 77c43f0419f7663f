"""What the client is told, when, and what is asked again before it is sent."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from string import Formatter

import pytest
import time_machine

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.actions.plan_visit_reminders import plan_visit_reminders
from clinic.booking.tasks import plan_reminders
from clinic.people.models import User
from clinic.reminders.kinds import kind
from clinic.reminders.models import Message

TEN = datetime(2026, 3, 5, 10, 0, tzinfo=UTC)
KINDS = ("visit_booked", "visit_reminder", "visit_moved", "visit_cancelled")
DAY = timedelta(days=1)


@pytest.fixture
def visit(cast, now):
    return book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now
    )


def the(code):
    return Message.objects.get(kind=code)


def asked_again(message, now):
    return kind(message.kind).still_wanted(message, now)


@pytest.mark.parametrize("code", KINDS)
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_kind_speaks_both_languages_and_says_no_more_than_it_may(code, language):
    wording = kind(code).wordings[language]
    values = {"first_name": "Ada", "day": "Thursday 5 March", "time": "10:00", "clinic": "Harbour Lane", "phone": "+44"}
    for text in (wording.subject, wording.body):
        names = {name for _, name, _, _ in Formatter().parse(text) if name is not None}
        assert names <= set(values)
        assert text.format(**values)
    assert "{phone}" in wording.body


def test_the_day_is_said_in_the_clients_language_on_the_sites_clock(cast, now, visit):
    cast.bo.language, cast.bo.zone = "es", "America/New_York"
    cast.bo.save()
    summer = datetime(2026, 4, 2, 10, 0, tzinfo=UTC)
    book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.theo, start=summer, now=now)
    assert Message.objects.get(client=cast.ada).values == {
        "first_name": "Ada", "day": "Thursday 5 March", "time": "10:00", "clinic": "Harbour Lane", "phone": "+441632960100",
    }
    told = Message.objects.get(client=cast.bo).values
    assert (told["day"], told["time"]) == ("jueves 2 de abril", "11:00")


def test_a_visit_is_reminded_of_once_a_day_ahead(cast, visit):
    by = User.objects.system()
    assert plan_visit_reminders(by=by, now=TEN - DAY - timedelta(minutes=1)) == 0
    assert [plan_visit_reminders(by=by, now=TEN - DAY + timedelta(minutes=n)) for n in (1, 2)] == [1, 0]
    reminder = the("visit_reminder")
    assert (reminder.about, reminder.not_after) == (f"appointment:{visit.public_id}", TEN - timedelta(hours=1))
    assert asked_again(reminder, TEN - DAY) is None


def test_the_task_asks_the_clock_and_acts_as_the_system(cast, visit):
    with time_machine.travel(TEN - timedelta(hours=20), tick=False):
        assert plan_reminders() == 1


def test_who_has_just_been_told_is_not_reminded_on_top(cast, visit):
    by, evening = cast.desk.user, TEN - timedelta(hours=18)
    move_visit(by=by, appointment=visit, start=TEN + timedelta(minutes=30), now=evening)
    assert plan_visit_reminders(by=by, now=evening + timedelta(minutes=5)) == 0
    late = book_visit(
        by=by, client=cast.bo, visit_type=cast.follow_up, clinician=cast.theo, start=TEN, now=evening
    )
    assert plan_visit_reminders(by=by, now=evening + timedelta(minutes=5)) == 0
    assert Message.objects.filter(about=f"appointment:{late.public_id}").count() == 1


def test_an_imported_visit_is_reminded_of_though_nothing_was_said_before(cast, now):
    import_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now
    )
    assert plan_visit_reminders(by=cast.desk.user, now=TEN - timedelta(hours=20)) == 1


def test_a_moved_visit_makes_the_older_messages_useless(cast, now, visit):
    plan_visit_reminders(by=cast.desk.user, now=TEN - DAY)
    move_visit(by=cast.desk.user, appointment=visit, start=TEN + DAY, now=TEN - DAY)
    assert asked_again(the("visit_reminder"), TEN - DAY) == "moved"
    assert asked_again(the("visit_booked"), now) == "moved"
    assert asked_again(the("visit_moved"), TEN - DAY) is None
    assert plan_visit_reminders(by=cast.desk.user, now=TEN) == 1


def test_a_cancelled_visit_is_not_announced_and_a_booked_one_not_called_off(cast, now, visit):
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)
    assert asked_again(the("visit_booked"), now) == "cancelled"
    called_off = the("visit_cancelled")
    assert asked_again(called_off, now) is None
    assert asked_again(called_off, TEN) == "started"
    mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=now)
    assert asked_again(called_off, now) == "booked_again"
    assert Message.objects.filter(kind="visit_booked").count() == 2


def test_nothing_is_said_about_a_visit_that_has_begun_or_is_gone(cast, visit):
    told = the("visit_booked")
    assert asked_again(told, TEN) == "started"
    mark_visit(by=cast.desk.user, appointment=visit, status="arrived", now=TEN - timedelta(minutes=5))
    assert asked_again(told, TEN - timedelta(minutes=5)) == "not_coming"
    told.about = "appointment:00000000-0000-0000-0000-000000000000"
    assert asked_again(told, TEN) == "gone"


def test_a_last_minute_change_is_not_mailed(cast, now, visit):
    soon = TEN - timedelta(minutes=30)
    cancel_visit(by=cast.desk.user, appointment=visit, reason="clinic", now=soon)
    assert not Message.objects.filter(kind="visit_cancelled").exists()


def test_booking_can_be_silent(cast, now):
    book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now, remind=False
    )
    assert not Message.objects.exists()
