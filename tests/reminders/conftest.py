from __future__ import annotations

from collections import Counter
from datetime import timedelta
from email import message_from_bytes, policy

import pytest
from aiosmtpd.controller import Controller

from clinic.people.queries import system_actor
from clinic.reminders import kinds as registry
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.actions.queue_message import queue_message
from tests.conftest import NOW
from tests.reminders import kinds, mailboxes
from tests.reminders.processes import free_port


@pytest.fixture(autouse=True)
def _kinds(monkeypatch):
    known = {kind.code: kind for kind in [*registry.all_kinds(), *kinds.KINDS]}
    monkeypatch.setattr(registry, "_kinds", known)   # for one test: the documents list every kind there is


@pytest.fixture(autouse=True)
def _box(settings):
    settings.EMAIL_BACKEND = "clinic.reminders.inbox.InboxBackend"   # the test runner would keep mail in memory
    kinds.STATE["wanted"] = None
    mailboxes.Troubled.SCRIPT.clear()
    mailboxes.Troubled.OPEN.clear()


@pytest.fixture
def troubled(settings):
    settings.EMAIL_BACKEND = "tests.reminders.mailboxes.Troubled"
    return mailboxes.Troubled


@pytest.fixture
def queue(cast):
    """queue(kind) -> a message to Ada, due now and useful for a day."""
    number = Counter()

    def queued(kind="note", to=None, due=NOW, useful=timedelta(days=1), values=None, at=NOW, channel="email"):
        number["n"] += 1
        return queue_message(
            by=system_actor(), kind=kind, to=to or cast.ada, about="test:1", dedup_key=f"{kind}:{number['n']}", due=due,
            not_after=due + useful, now=at, values=values or {"day": "Tuesday", "time": "10:00"}, channel=channel,
        )

    return queued


@pytest.fixture
def deliver():
    """deliver() -> the counts of one run at nine o'clock; deliver(minutes=5) five minutes later."""

    def run(limit=50, **later):
        return dict(deliver_due(now=NOW + timedelta(**later), worker="tests", limit=limit))

    return run


class Server:
    """Answers RCPT and DATA with `answers`; hangs up after the letter when told to."""

    def __init__(self):
        self.answers = {"RCPT": "250 fine", "DATA": "250 taken"}
        self.letters = []
        self.hang_up = False

    async def handle_RCPT(self, server, session, envelope, address, options):
        if self.answers["RCPT"].startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.answers["RCPT"]

    async def handle_DATA(self, server, session, envelope):
        if self.answers["DATA"].startswith("250"):
            self.letters.append(message_from_bytes(envelope.content, policy=policy.default))
        if self.hang_up:
            server.transport.close()   # the letter is here; the answer never arrives
        return self.answers["DATA"]


@pytest.fixture
def server(settings):
    handler = Server()
    controller = Controller(handler, hostname="127.0.0.1", port=free_port())
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.EMAIL_PORT = controller.port
    settings.EMAIL_USE_TLS = False
    yield handler
    controller.stop()
