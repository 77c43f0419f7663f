"""The way of a program, and what each week asked and got."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from clinic.people.models import Client, User
from programs.following.models import DayRecord
from programs.following.notes import unread_for_client
from programs.following.queries import days_of, ribbon_of
from programs.following.rules.adherence import Bands
from programs.following.vocab import DayState
from programs.portal.queries.own import bands, chosen_program, day_of, where_they_stand
from programs.portal.rules.days import PhaseLine, WeekWord, monday_of, phase_lines, ribbon_bounds, week_word
from programs.portal.vocab import Stand
from programs.prescribing.models import Program
from programs.prescribing.queries import plan_of, revisions_of
from programs.prescribing.rules.plan import day_plan
from programs.prescribing.rules.ribbon import RibbonDay


@dataclass(frozen=True, slots=True)
class Course:
    """The whole way of one program: its phases in dates and its days as a ribbon."""

    client: Client
    day: date
    stand: Stand
    program: Program | None
    others: list[Program]
    phases: list[PhaseLine]
    ribbon: list[RibbonDay]
    next_change: date | None      # the day another revision takes over, when one is written already
    unread: int                   # notes from the clinic that wait to be read


def course_of(user: User, now: datetime, public_id: UUID | str | None = None) -> Course:
    """The way of the program asked for, or the client's first."""
    client, program, others = chosen_program(user, public_id)
    day, unread = day_of(client, now), unread_for_client(client)
    if program is None:
        return Course(client, day, Stand.NONE, None, others, [], [], None, unread)
    revisions = list(revisions_of(program))
    current = [row for row in revisions if row.effective_from <= max(day, program.starts)]
    plan = plan_of(current[-1]) if current else None
    asked = day_plan(plan, day) if plan and day >= plan.anchor else None
    first, last = ribbon_bounds(program.starts, plan, day)
    return Course(
        client, day, where_they_stand(program, asked, day), program, others, phase_lines(plan, day) if plan else [],
        ribbon_of(program, first, last, day),
        next((row.effective_from for row in revisions if row.effective_from > max(day, program.starts)), None),
        unread,
    )


@dataclass(frozen=True, slots=True)
class Week:
    """What one week asked for, up to today, and what was done."""

    monday: date
    sunday: date
    days_asked: int
    days_done: int
    sessions_asked: int           # the least
    sessions_done: int
    word: WeekWord                # the band, by sessions done out of asked


def weeks_of(program: Program, mondays: list[date], today: date) -> list[Week]:
    """A row per week, in the order given. Days still to come do not count."""
    if not mondays:
        return []
    last = min(max(mondays) + timedelta(days=6), today)
    records, edges = days_of([program.pk], min(mondays), last)[program.pk], bands()
    return [
        _week(monday, [record for record in records if monday_of(record.day) == monday], edges) for monday in mondays
    ]


def _week(monday: date, records: list[DayRecord], edges: Bands) -> Week:
    asked = [record for record in records if record.prescribed_sessions]
    least, done = sum(record.prescribed_sessions for record in asked), sum(record.sessions_done for record in records)
    paused = any(record.state == DayState.PAUSED for record in records)
    return Week(
        monday, monday + timedelta(days=6), len(asked), sum(1 for record in records if record.sessions_done), least, done,
        week_word(least, done, edges, paused=paused),
    )
