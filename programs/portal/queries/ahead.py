"""The days ahead: what a phone keeps for when there is no signal."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from clinic.people.models import Client, User
from clinic.people.queries import own_client
from programs.portal.queries.own import OPEN, day_of, my_programs, open_alert, stand_with
from programs.portal.queries.today import Card, cards_of
from programs.portal.rules.days import LOOK_AHEAD_DAYS
from programs.portal.vocab import Stand
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import pauses_of, plan_of, revisions_of
from programs.prescribing.rules.plan import DayPlan, day_plan


@dataclass(frozen=True, slots=True)
class AheadDay:
    """One day of a program. `revision` is the one that counts then; None before the first."""

    day: date
    stand: Stand
    asked: DayPlan | None
    revision: Revision | None


@dataclass(frozen=True, slots=True)
class AheadProgram:
    """An open program: its days, and the exercises of each revision that counts on one of them."""

    program: Program
    days: list[AheadDay]
    cards: list[tuple[Revision, list[Card]]]


@dataclass(frozen=True, slots=True)
class Ahead:
    """Everything a client needs for the days ahead; `stopped` while a red-flag answer is open."""

    client: Client
    day: date
    stopped: bool
    programs: list[AheadProgram]


def ahead_of(user: User, now: datetime, days: int = LOOK_AHEAD_DAYS) -> Ahead:
    """Today and the days after it, `days` in all, of every open program of the signed-in client."""
    client = own_client(user)
    today = day_of(client, now)
    wanted = [today + timedelta(days=offset) for offset in range(days)]
    programs = [row for row in my_programs(client, user) if row.status in OPEN]
    return Ahead(client, today, open_alert(client) is not None, [_program(row, wanted, client.language) for row in programs])


def _program(program: Program, wanted: list[date], language: str) -> AheadProgram:
    revisions, pauses = list(revisions_of(program)), pauses_of(program)
    plans = {row.pk: plan_of(row) for row in revisions}
    days = []
    for day in wanted:
        counts = [row for row in revisions if row.effective_from <= max(day, program.starts)]
        revision = counts[-1] if counts else None
        plan = plans[revision.pk] if revision else None
        asked = day_plan(plan, day) if plan and day >= plan.anchor else None
        days.append(AheadDay(day, stand_with(program, pauses, asked, day), asked, revision))
    used = {day.revision.pk for day in days if day.revision}
    return AheadProgram(program, days, [(row, cards_of(row, language)) for row in revisions if row.pk in used])
