"""Tell the client the evening before their program thins, and the clinician when a kick-off has had its days."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.db import transaction
from django.utils import translation
from django.utils.formats import date_format

from clinic.people.models import Client, User
from clinic.people.rules import zones
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import newest_revision, plan_of
from programs.prescribing.rules.plan import Plan, phase_starts

KIND = "phase_change"
KICK_OFF_KIND = "kick_off_end"
MORNING = time(8)     # of the kick-off's last day, in the client's zone
DECIDE_FOR = timedelta(days=3)   # later the suggestions say it better
EVENING = time(18)    # the client's zone
TOO_LATE = time(12)   # on the day itself; after it the message would tell of yesterday
_DAY = {"en": "l j F", "es": r"l j \d\e F"}


@transaction.atomic
def plan_phase_messages(*, by: User, program: Program, now: datetime) -> list[Message]:
    """Queue one message for each taper or maintenance phase of the newest revision whose first day is known and ahead.

    Once per program, revision and phase. Due at 18:00 the evening before, in the client's zone; at once when that
    has passed and the day has not begun. A kick-off that waits for a decision is told to the clinician on its last day.
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
    ending = _kick_off_end(by, program, revision, plan, now)
    return [*queued, ending] if ending else queued


def _kick_off_end(by: User, program: Program, revision: Revision, plan: Plan, now: datetime) -> Message | None:
    """To the clinician, for it goes on until they decide."""
    phase, zone = plan.phases[0], program.client.zone
    if phase.kind != "kick_off" or phase.advance != "by_decision" or phase.days is None:
        return None
    last_day = plan.anchor + timedelta(days=phase.days - 1)
    due = zones.lenient_instant(last_day, MORNING, zone)
    if due <= now:
        return None
    return queue_message(
        by=by, kind=KICK_OFF_KIND, to=program.clinician, about=f"revision:{revision.public_id}",
        dedup_key=f"{KICK_OFF_KIND}:{program.public_id}:{revision.number}", due=due, not_after=due + DECIDE_FOR, now=now,
        values={"first_name": program.client.given_name, "day": f"{last_day.day} {last_day:%B}", "url": "/suggestions/"},
    )


def _spoken(day: date, client: Client) -> str:
    """The day as said aloud in the client's language."""
    language = client.language.split("-")[0]
    language = language if language in _DAY else "en"
    with translation.override(language):
        return str(date_format(day, _DAY[language], use_l10n=False))
