"""The one-process mode: Celery's beat on a thread, eager tasks, no broker."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest
from celery import current_app
from django.core.exceptions import ImproperlyConfigured
from django.utils import timezone

from clinic.people.models import Consent
from clinic.people.queries import system_actor
from clinic.project import background
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Heartbeat, InboxMessage, Message

TICK = 0.1   # seconds


@pytest.fixture
def conf():
    """conf(name=value) changes Celery's configuration for one test."""
    before = {name: getattr(current_app.conf, name) for name in ("beat_schedule", "task_always_eager")}
    yield lambda **values: [setattr(current_app.conf, name, value) for name, value in values.items()]
    for name, value in before.items():
        setattr(current_app.conf, name, value)


def _wait(condition, seconds=10):
    ends = time.monotonic() + seconds
    while time.monotonic() < ends and not condition():
        time.sleep(0.02)
    assert condition()


@pytest.mark.django_db(transaction=True)
def test_the_thread_ticks_and_a_second_one_is_harmless(cast, tmp_path, conf, settings):
    conf(beat_schedule={"deliver": {"task": "reminders.deliver", "schedule": TICK}})
    settings.EMAIL_BACKEND = "clinic.reminders.inbox.InboxBackend"
    threads = [background.start(tmp_path / "one"), background.start(tmp_path / "two")]
    try:
        _wait(Heartbeat.objects.exists)
        first = Heartbeat.objects.get().at
        for number in range(10):
            now = timezone.now()
            queue_message(
                by=system_actor(), kind="urgent", to=cast.ada, about="test:1", dedup_key=str(number), due=now,
                not_after=now + timedelta(hours=1), now=now,
            )
        _wait(lambda: Message.objects.filter(state="sent").count() == 10)
        _wait(lambda: Heartbeat.objects.get().at > first)
    finally:
        for thread in threads:
            thread.stop()
    assert InboxMessage.objects.count() == 10
    assert not any(thread.is_alive() for thread in threads)
    assert Consent.objects.count() == 2   # nothing else was touched


def test_it_is_refused_where_a_worker_does_the_work(conf):
    conf(task_always_eager=False)
    with pytest.raises(ImproperlyConfigured, match="needs eager tasks"):
        background.start()


def test_a_scheduled_task_that_no_app_defines_is_named(conf):
    conf(beat_schedule={"x": {"task": "nobody.home", "schedule": 1}})
    with pytest.raises(ImproperlyConfigured, match=r"nobody\.home"):
        background.start()


def test_the_schedule_is_plain_intervals_in_utc_and_every_task_exists():
    current_app.loader.import_default_modules()
    assert current_app.conf.timezone == "UTC"
    for entry in current_app.conf.beat_schedule.values():
        assert isinstance(entry["schedule"], int | float)   # a crontab falls silent for an hour in autumn
        assert entry["task"] in current_app.tasks
