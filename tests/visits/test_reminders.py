"""Reminders of reassessments: queued once, asked again just before sending."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from clinic.people.actions.set_consent import set_consent
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.kinds import kind
from clinic.reminders.models import InboxMessage, Message
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.actions.plan_reassessment_reminders import plan_reassessment_reminders
from clinic.visits.tasks import plan_reminders
from clinic.visits.wording import day_words

WINDOW = {"earliest": date(2026, 3, 8), "due": date(2026, 3, 10), "latest": date(2026, 3, 17)}
OPENS = datetime(2026, 3, 8, 10, 0, tzinfo=UTC)
OVERDUE = datetime(2026, 3, 11, 10, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _inbox(settings):
    settings.EMAIL_BACKEND = "clinic.reminders.inbox.InboxBackend"


def kinds():
    return list(Message.objects.order_by("pk").values_list("kind", flat=True))


def test_nothing_is_queued_before_the_window_opens_and_once_after(cast, look):
    row = look(**WINDOW)
    assert plan_reassessment_reminders(now=OPENS - timedelta(days=1)) == {"reassessment_due": 0, "reassessment_overdue": 0}
    assert plan_reassessment_reminders(now=OPENS) == {"reassessment_due": 1, "reassessment_overdue": 0}
    assert plan_reassessment_reminders(now=OPENS + timedelta(days=1)) == {"reassessment_due": 0, "reassessment_overdue": 0}
    message = Message.objects.get()
    assert (message.client, message.about) == (cast.ada, f"reassessment:{row.public_id}")
    assert message.values == {"first_name": "Ada", "day": "Tuesday 10 March", "url": "/portal/visits/"}
    assert message.not_after == datetime(2026, 3, 11, 0, 0, tzinfo=UTC)


def test_the_window_opens_by_the_day_of_the_site_not_of_utc(cast, look):
    cast.site.zone = "Pacific/Auckland"
    cast.site.save()
    look(**WINDOW)
    # 8 March begins in Auckland at 11:00 UTC of the 7th
    assert plan_reassessment_reminders(now=datetime(2026, 3, 7, 10, 59, tzinfo=UTC))["reassessment_due"] == 0
    assert plan_reassessment_reminders(now=datetime(2026, 3, 7, 11, 0, tzinfo=UTC))["reassessment_due"] == 1


def test_the_day_after_the_due_day_the_desk_is_told_and_the_client_no_more(cast, look):
    look(**WINDOW)
    assert plan_reassessment_reminders(now=OVERDUE) == {"reassessment_due": 0, "reassessment_overdue": 1}
    assert Message.objects.get().staff == cast.desk
    assert plan_reassessment_reminders(now=OVERDUE + timedelta(days=3))["reassessment_overdue"] == 0


def test_an_old_one_is_not_written_about_any_more(cast, look):
    look(**WINDOW)
    assert plan_reassessment_reminders(now=OVERDUE + timedelta(days=14)) == {"reassessment_due": 0, "reassessment_overdue": 0}


def test_a_booked_a_closed_and_an_archived_clients_one_are_left_alone(cast, look, now):
    booked = look(**WINDOW)
    look(**WINDOW, reason="interval", status="withdrawn")
    look(**WINDOW, episode=cast.bo_neck)
    cast.bo.archived = now
    cast.bo.save()
    book_reassessment(
        by=cast.desk.user, reassessment=booked, clinician=cast.mina, start=datetime(2026, 3, 10, 10, tzinfo=UTC), now=now
    )
    plan_reassessment_reminders(now=OPENS)
    plan_reassessment_reminders(now=OVERDUE)
    assert {"reassessment_due", "reassessment_overdue"}.isdisjoint(kinds())


def test_a_moved_window_is_announced_anew_and_the_old_message_is_skipped(cast, look):
    row = look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    row.due = date(2026, 3, 12)
    row.save()
    plan_reassessment_reminders(now=OPENS)
    old, new = Message.objects.order_by("pk")
    asked = kind("reassessment_due").still_wanted
    assert asked(old, OPENS) == "moved"
    assert asked(new, OPENS) is None


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"status": "done"}, "closed"), ({"status": "withdrawn"}, "closed"),
        ({"earliest": date(2026, 3, 9)}, "too_early"),
    ],
)
def test_just_before_sending_it_is_asked_again(cast, look, change, reason):
    row = look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    message = Message.objects.get()
    assert kind("reassessment_due").still_wanted(message, OPENS) is None
    for name, value in change.items():
        setattr(row, name, value)
    row.save()
    assert kind("reassessment_due").still_wanted(message, OPENS) == reason
    row.delete()
    assert kind("reassessment_due").still_wanted(message, OPENS) == "gone"


def test_booked_between_queueing_and_sending_sends_nothing(cast, look, now):
    row = look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    book_reassessment(
        by=cast.desk.user, reassessment=row, clinician=cast.mina, start=datetime(2026, 3, 10, 10, tzinfo=UTC), now=OPENS
    )
    deliver_due(now=OPENS, worker="test")
    message = Message.objects.get(kind="reassessment_due")
    assert (message.state, message.reason) == ("skipped", "booked")


def test_the_mail_says_a_first_name_and_a_day_and_nothing_clinical(cast, look):
    cast.ada.language = "es"
    cast.ada.save()
    look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    deliver_due(now=OPENS, worker="test")
    mail = InboxMessage.objects.get()
    assert mail.subject == "Toca revisión en Harbour Lane"
    assert "Hola, Ada:" in mail.body
    assert "el martes 10 de marzo" in mail.body
    assert "+441632960100" in mail.body
    for private in ("Quill", "hip", "left", "Stiff", "Mina"):
        assert private not in mail.subject + mail.body


def test_without_consent_the_client_gets_nothing_and_the_desk_still_does(cast, look, now):
    set_consent(by=cast.desk.user, client=cast.ada, channel="email", granted=False, now=now)
    look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    deliver_due(now=OPENS, worker="test")
    assert Message.objects.get().state == "skipped"
    plan_reassessment_reminders(now=OVERDUE)
    deliver_due(now=OVERDUE, worker="test")
    assert [mail.to for mail in InboxMessage.objects.all()] == ["dara@harbour.example"]
    assert "Ada" not in InboxMessage.objects.get().body


def test_someone_who_left_the_desk_is_not_told(cast, look):
    look(**WINDOW)
    plan_reassessment_reminders(now=OVERDUE)
    message = Message.objects.get()
    asked = kind("reassessment_overdue").still_wanted
    assert asked(message, OVERDUE) is None
    cast.desk.user.is_active = False
    cast.desk.user.save()
    assert asked(Message.objects.get(), OVERDUE) == "not_at_the_desk"


def test_the_clients_quiet_hours_are_kept(cast, look):
    cast.ada.quiet_from, cast.ada.quiet_until = time(9), time(12)
    cast.ada.save()
    look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    deliver_due(now=OPENS, worker="test")
    message = Message.objects.get()
    assert (message.state, message.due) == ("pending", datetime(2026, 3, 8, 12, 0, tzinfo=UTC))


def test_the_scheduled_task_queues_with_the_present_moment(cast, look):
    today = datetime.now(UTC).date()
    look(today, earliest=today - timedelta(days=1), latest=today + timedelta(days=7))
    plan_reminders()
    assert kinds()[0].startswith("reassessment_")


def test_planning_costs_the_same_for_one_and_three(cast, look, django_assert_num_queries, now):
    look(**WINDOW)
    plan_reassessment_reminders(now=OPENS)
    with django_assert_num_queries(6):
        plan_reassessment_reminders(now=OPENS)
    look(**WINDOW, reason="interval")
    look(**WINDOW, episode=cast.bo_neck)
    plan_reassessment_reminders(now=OPENS)
    with django_assert_num_queries(6):
        plan_reassessment_reminders(now=OPENS)


@pytest.mark.parametrize(
    ("language", "words"),
    [("en", "Tuesday 10 March"), ("es", "martes 10 de marzo"), ("es-MX", "martes 10 de marzo"), ("de", "Tuesday 10 March")],
)
def test_days_are_said_in_the_clients_language(language, words):
    assert day_words(date(2026, 3, 10), language) == words
