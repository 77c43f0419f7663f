"""The doorbell never holds up, never breaks and never precedes what rings it."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest
from celery import current_app
from django.db import transaction

from clinic.reminders import bell
from clinic.reminders.models import InboxMessage
from tests.conftest import NOW


@pytest.fixture(autouse=True)
def _nothing_known_of_the_broker(monkeypatch):
    monkeypatch.setitem(bell._quiet, "until", 0.0)


@pytest.fixture
def rings(settings, monkeypatch):
    settings.CELERY_TASK_ALWAYS_EAGER = False
    sent = []
    monkeypatch.setattr(current_app, "send_task", lambda name, **options: sent.append((name, options["kwargs"])))
    return sent


def test_a_message_that_is_due_rings_once_after_the_commit(queue, rings, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        queue()
        queue()
        assert rings == []
    assert rings == [("reminders.deliver", {"rung": True})]


def test_a_message_for_later_rings_nobody(queue, rings, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        queue(due=NOW + timedelta(hours=1))
    assert rings == []


@pytest.mark.django_db(transaction=True)
def test_what_is_rolled_back_rings_nobody(queue, rings):
    with transaction.atomic():
        queue()
        transaction.set_rollback(True)
    assert rings == []
    queue()
    assert len(rings) == 1


def test_in_one_process_the_request_itself_sends_nothing(queue, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        queue()
    assert callbacks == []
    assert not InboxMessage.objects.exists()


def test_a_dead_broker_is_logged_and_does_not_hold_up_the_request(
    db, settings, monkeypatch, caplog, django_capture_on_commit_callbacks
):
    settings.CELERY_TASK_ALWAYS_EAGER = False
    dead = type(current_app._get_current_object())("dead", set_as_current=False)
    dead.conf.update(current_app.conf.changes | {
        "broker_url": "redis://127.0.0.1:1/0",
        "broker_transport_options": {"socket_connect_timeout": 1},
        "task_publish_retry_policy": dict(current_app.conf.task_publish_retry_policy),
    })
    monkeypatch.setattr(bell, "current_app", dead)
    started = time.monotonic()
    with django_capture_on_commit_callbacks(execute=True):
        bell.ring()
    assert time.monotonic() - started < 2
    assert [(record.msg, record.args) for record in caplog.records] == [
        ("doorbell_failed", {"error_type": "OperationalError"})
    ]
    with django_capture_on_commit_callbacks(execute=True):
        bell.ring()
    assert len(caplog.records) == 1   # the broker is left alone for a while: the next request does not wait at all
