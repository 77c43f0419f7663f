"""Hand-over to a real mail server, which answers as RFC 5321 lets it."""

from __future__ import annotations

import pytest

from clinic.people.models import Client
from clinic.reminders.models import Heartbeat, Suppression


def after(message):
    message.refresh_from_db()
    return message.state, message.reason, message.resends


def test_a_letter_arrives_with_its_reference_and_its_accents(queue, deliver, cast, server):
    Client.objects.filter(pk=cast.ada.pk).update(given_name="Zoë\nBcc: eve@x.example")
    message = queue()
    assert deliver() == {"sent": 1}
    letter = server.letters[0]
    assert letter["Subject"] == "Note for Zoë Bcc: eve@x.example"
    assert letter["Message-ID"] == f"<{message.public_id}@intervale.example>"
    assert letter["Auto-Submitted"] == "auto-generated"
    assert letter["Bcc"] is None
    assert "Tuesday 10:00" in letter.get_content()


@pytest.mark.parametrize(
    ("step", "answer", "outcome", "state", "reason"),
    [
        ("RCPT", "550 no such user", "failed", "failed", "no_such_address"),
        ("RCPT", "553 name not allowed", "failed", "failed", "no_such_address"),
        ("RCPT", "550 5.1.1 no such user", "failed", "failed", "no_such_address"),
        ("RCPT", "550 5.2.1 mailbox disabled", "failed", "failed", "no_such_address"),
        ("RCPT", "550 5.7.1 we take nothing from you", "failed", "failed", "refused"),
        ("RCPT", "452 too many", "later", "pending", ""),
        ("RCPT", "552 mailbox full", "later", "pending", ""),
        ("DATA", "451 local error", "later", "pending", ""),
        ("DATA", "421 closing", "later", "pending", ""),
        ("DATA", "554 not accepted", "failed", "failed", "refused"),
    ],
)
def test_a_refusal_is_passing_or_for_good_by_its_code(queue, deliver, cast, server, step, answer, outcome, state, reason):
    message = queue()
    other = queue(to=cast.bo)
    server.answers[step] = answer
    assert deliver(limit=1) == {outcome: 1}
    assert after(message) == (state, reason, 0)
    assert Suppression.objects.count() == (reason == "no_such_address")
    server.answers[step] = "250 fine"
    assert deliver(seconds=1)["sent"] == 1   # the server is not held against the next one
    assert after(other) == ("sent", "", 0)


def test_a_line_cut_before_the_answer_leaves_one_copy_more_at_most(queue, deliver, server):
    message, once = queue(), queue("once")
    server.hang_up = True
    assert deliver() == {"resent": 1, "unknown": 1}
    assert deliver(seconds=20) == {"unknown": 1}
    assert deliver(hours=2) == {}
    assert after(message) == ("unknown", "outcome_unknown", 1)
    assert after(once) == ("unknown", "outcome_unknown", 0)
    references = [letter["Message-ID"] for letter in server.letters]
    assert references.count(f"<{message.public_id}@intervale.example>") == 2
    assert references.count(f"<{once.public_id}@intervale.example>") == 1


def test_a_server_that_is_not_there_leaves_every_message_as_it_was(queue, deliver, settings):
    message = queue()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS = "127.0.0.1", 1, False
    assert deliver() == {"paused": 1}
    assert after(message) == ("pending", "", 0)
    assert Heartbeat.objects.filter(name="email-down").exists()


def test_a_server_without_tls_is_not_used_when_tls_is_asked_for(queue, deliver, server, settings):
    settings.EMAIL_USE_TLS = True
    message = queue()
    assert deliver() == {"paused": 1}
    assert after(message) == ("pending", "", 0)
    assert server.letters == []
