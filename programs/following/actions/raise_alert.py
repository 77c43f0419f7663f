"""A red-flag answer: tell the desk and the clinician at once, and keep it open until a clinician closes it."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.reminders.actions.queue_message import queue_message
from programs.following.actions.follow_program import follow_program
from programs.following.models import Alert
from programs.following.queries import open_programs_of, told_of_alerts
from programs.following.vocab import RedFlag

USEFUL = timedelta(hours=24)   # later than this the list of open alerts has long said it


@transaction.atomic
def raise_alert(*, by: User, client: Client, answer_id: UUID, flag: str, now: datetime) -> Alert:
    """Once per `answer_id`. The mail holds a first name and a time, nothing of the answer, and knows no quiet hours.

    Refusal `invalid` (400) for an answer we do not ask; `answer_id_taken` (409) when the id is another client's.
    """
    if flag not in RedFlag.values:
        sentence = "This is not one of the answers that we ask for."
        raise Refusal("invalid", sentence, status=400, fields={"flag": sentence})
    programs = list(open_programs_of(client))
    try:
        with transaction.atomic():
            alert, created = Alert.objects.get_or_create(
                answer_id=answer_id,
                defaults={"client": client, "program": programs[0] if programs else None, "flag": flag, "at": now},
            )
    except IntegrityError as error:
        raise Refusal("try_again", "This answer is just being stored. Try again.", status=503, retry_after=1) from error
    if alert.client_id != client.pk:
        raise Refusal("answer_id_taken", "This answer's number belongs to another answer.")
    if not created:
        return alert
    _tell(client, alert, by, now)
    audit.record(by=by, verb="raise_alert", kind="alert", public_id=alert.public_id, at=now, client=client)
    for program in programs:
        follow_program(program=program, now=now)
    return alert


def _tell(client: Client, alert: Alert, by: User, now: datetime) -> None:
    at = now.astimezone(zones.zone(client.site.zone))
    for staff in told_of_alerts(client):
        queue_message(
            by=by, kind="red_flag", to=staff, about=f"alert:{alert.public_id}",
            dedup_key=f"red_flag:{alert.public_id}:{staff.public_id}", due=now, not_after=now + USEFUL, now=now,
            values={"first_name": client.given_name, "time": f"{at:%H:%M}", "url": "/alerts/"},
        )
