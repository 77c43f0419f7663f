"""Messages are for the front desk and the lead; the post box exists in the demo only; health is open."""

from __future__ import annotations

from datetime import timedelta

from clinic.reminders.models import Message, Suppression
from tests.access.roles import Row
from tests.conftest import NOW


def _failed_message_to_ada(cast):
    message, _ = Message.objects.get_or_create(
        dedup_key="matrix",
        defaults={
            "kind": "mail_check", "client": cast.ada, "about": "test:1", "due": NOW, "not_after": NOW + timedelta(days=9999),
            "state": "failed", "created": NOW,
        },
    )
    return {"public_id": message.public_id}


def _dead_address_of_ada(cast):
    row, _ = Suppression.objects.get_or_create(channel="email", address="ada@client.example", client=cast.ada, since=NOW)
    return {"public_id": row.public_id}


#                                                  visitor  ada  bo   desk mina theo lead deactivated
ROWS = [
    Row("GET", "reminders:messages", expect=(302, 404, 404, 200, 404, 404, 200, 302)),
    Row("POST", "reminders:check", expect=(302, 404, 404, 302, 404, 404, 302, 302)),
    Row("POST", "reminders:retry", expect=(302, 404, 404, 302, 404, 404, 302, 302), make=_failed_message_to_ada),
    Row("POST", "reminders:hold", expect=(302, 404, 404, 404, 404, 404, 302, 302)),
    Row("POST", "reminders:release", expect=(302, 404, 404, 404, 404, 404, 302, 302)),
    Row("GET", "reminders:inbox", expect=(404, 404, 404, 404, 404, 404, 404, 404)),
    Row("GET", "reminders:live", expect=(200, 200, 200, 200, 200, 200, 200, 200)),
    # nothing has been delivered in this database yet
    Row("GET", "reminders:ready", expect=(503, 503, 503, 503, 503, 503, 503, 503)),
    Row("GET", "reminders:wordings", expect=(302, 404, 404, 200, 404, 404, 200, 302)),
    Row("GET", "reminders:addresses", expect=(302, 404, 404, 200, 404, 404, 200, 302)),
    Row(
        "POST", "reminders:lift", expect=(302, 404, 404, 302, 404, 404, 302, 302), make=_dead_address_of_ada,
        body=lambda cast: {"why": "Spelt wrongly at the server"},
    ),
    # without a signing key nobody; with one a signature decides (tests/reminders/test_reports.py)
    Row("POST", "reminders:sms_report", expect=(404, 404, 404, 404, 404, 404, 404, 404)),
    # without the token of the monitoring system nobody, signed in or not
    Row("GET", "reminders:metrics", expect=(404, 404, 404, 404, 404, 404, 404, 404)),
    Row("GET", "api:messages", expect=(401, 404, 404, 200, 404, 404, 200, 401)),
    Row("POST", "api:message_retry", expect=(401, 404, 404, 200, 404, 404, 200, 401), make=_failed_message_to_ada),
]
