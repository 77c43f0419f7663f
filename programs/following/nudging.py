"""Reads for the reminder of the day's session: who wished for one, and whom something speaks against."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet

from clinic.people.models import Client
from programs.following.models import Alert, DayNudge, SessionLog
from programs.prescribing.models import Pause, Program
from programs.prescribing.queries import OPEN, plans_of_many
from programs.prescribing.rules.plan import Plan
from programs.prescribing.rules.timeline import is_paused, timeline
from programs.prescribing.vocab import ProgramStatus

ABOUT = "nudge:"


def nudge_of(client: Client) -> DayNudge | None:
    """The client's wish; None when they have none."""
    return DayNudge.objects.filter(client=client).first()


def nudges_due(now: datetime) -> QuerySet[DayNudge]:
    """Wishes whose moment has come, the oldest first, passing over what another worker holds."""
    rows = DayNudge.objects.filter(next_at__lte=now).select_related("client").order_by("next_at", "pk")
    return rows.select_for_update(skip_locked=True, of=("self",))


def about(client: Client, day: date) -> str:
    """What a reminder of that day is about."""
    return f"{ABOUT}{client.public_id}:{day.isoformat()}"


def day_of(text: str) -> date:
    """The day in what a reminder is about."""
    return date.fromisoformat(text.rpartition(":")[2])


def spoken_against(messages: Sequence[Any]) -> dict[str, str]:
    """For each message, by what it is about, a code of why it is not to go, "" when it is."""
    by_day: dict[date, dict[int, str]] = defaultdict(dict)
    for message in messages:
        by_day[day_of(message.about)][message.client_id] = message.about
    found = {}
    for day, asked in by_day.items():
        for client, code in reasons(asked, day).items():
            found[asked[client]] = code
    return found


def reasons(clients: Collection[int], day: date) -> dict[int, str]:
    """By key of the client a code of why none is to be sent for `day`, "" for those who are still asked for a session.

    While a red-flag answer is open nobody is asked to exercise. A fixed number of queries for however many clients.
    """
    wished = set(DayNudge.objects.filter(client__in=clients).values_list("client", flat=True))
    stopped = set(Alert.objects.filter(client__in=wished, closed_at__isnull=True).values_list("client", flat=True))
    stands = _stands(wished - stopped, day)
    return {
        client: "wish_ended" if client not in wished else "alert_open" if client in stopped
        else next((code for code in _ORDER if code in stands[client]), "program_ended")
        for client in clients
    }


# of several programs: one that still asks wins, and what the client did says more than a rest day
_ORDER = ("", "already_logged", "program_paused", "no_session_asked")


def _stands(clients: set[int], day: date) -> dict[int, set[str]]:
    programs = list(Program.objects.filter(client__in=clients, status__in=OPEN, starts__lte=day))
    keys = [program.pk for program in programs]
    plans, pauses = plans_of_many(programs), defaultdict(list)
    for key, first, until in Pause.objects.filter(program__in=keys).values_list("program", "first", "until"):
        pauses[key].append((first, until))
    logged = set(SessionLog.objects.filter(program__in=keys, day=day).values_list("program", flat=True))
    stands: dict[int, set[str]] = defaultdict(set)
    for program in programs:
        versions = [(revision.effective_from, plan) for revision, plan in plans[program.pk]]
        stands[program.client_id].add(_stand(program, versions, pauses[program.pk], program.pk in logged, day))
    return stands


def _stand(
    program: Program, plans: list[tuple[date, Plan]], pauses: list[tuple[date, date | None]], logged: bool, day: date
) -> str:
    if program.status != ProgramStatus.ACTIVE or is_paused(pauses, day):
        return "program_paused"
    asked = timeline(plans, pauses, day, day)[0].asked
    if asked is None or asked.sessions is None:
        return "no_session_asked"
    return "already_logged" if logged else ""
