"""Tell the client the evening before their program thins."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.db import transaction
from django.utils import translation
from django.utils.formats import date_format

from clinic.people.models import Client, User
from clinic.people.rules import zones
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message
from programs.prescribing.models import Program
from programs.prescribing.queries import newest_revision, plan_of
from programs.prescribing.rules.plan import phase_starts

KIND = "phase_change"
EVENING = time(18)    # the client's zone
TOO_LATE = time(12)   # on the day itself; after it the message would tell of yesterday
_DAY = {"en": "l j F", "es": r"l j \d\e F"}


@transaction.atomic
def plan_phase_messages(*, by: User, program: Program, now: datetime) -> list[Message]:
    """Queue one message for each taper or maintenance phase of the newest revision whose first day is known and ahead.

    Once per program, revision and phase. Due at 18:00 the evening before, in the client's zone; at once when that
    has passed and the day has not begun.
    """
    revision = newest_revision(program)
    client = program.client
    plan = plan_of(revision)
    queued = []
    for number, first_day in phase_starts(plan):
        begins, _ = zones.day_bounds(first_day, client.zone)
        if plan.phases[number - 1].kind == "kick_off" or begins <= now or first_day < revision.effective_from:
            continue
        evening = zones.lenient_instant(first_day - timedelta(days=1), EVENING, client.zone)
        message = queue_message(
            by=by, kind=KIND, to=client, about=f"revision:{revision.public_id}",
            dedup_key=f"{KIND}:{program.public_id}:{revision.number}:{number}",
            due=max(evening, now), not_after=zones.lenient_instant(first_day, TOO_LATE, client.zone), now=now,
            values={"first_name": client.given_name, "day": _spoken(first_day, client)},
        )
        if message:
            queued.append(message)
    return queued


def _spoken(day: date, client: Client) -> str:
    """The day as said aloud in the client's language."""
    language = client.language.split("-")[0]
    language = language if language in _DAY else "en"
    with translation.override(language):
        return str(date_format(day, _DAY[language], use_l10n=False))
