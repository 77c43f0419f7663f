"""Writes a client's session logs in bulk, as the portal would have sent them."""

from __future__ import annotations

import random
import uuid
from datetime import date, datetime, time, timedelta

from clinic.people.models import User
from clinic.people.rules import zones
from clinic.project.demo.story import Manner, Session, days, sessions_of
from programs.following.models import ItemLog, MorningAnswer, SessionLog
from programs.following.vocab import LogSource
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import plans_of
from programs.prescribing.rules.plan import day_plan

NAMESPACE = uuid.UUID("0d6f5d0e-5a2c-5c7e-8f5e-2b1f7a3c9d10")


def write_logs(*, program: Program, manner: Manner, first: date, last: date, now: datetime, dice: random.Random) -> None:
    """Every session from `first` to `last` that would have begun before `now`."""
    plans = plans_of(program)
    by, zone = program.client.user, program.client.zone
    if by is None:
        raise ValueError("a demo client signs in, so has a user")
    logs: list[tuple[SessionLog, Session]] = []
    for day in days(first, last):
        revision, plan = max(
            ((row, plan) for row, plan in plans if row.effective_from <= day), key=lambda pair: pair[0].number
        )
        for session in sessions_of(manner, day_plan(plan, day), plan.items, (day - first).days, dice):
            started = zones.lenient_instant(day, time(session.minute // 60, session.minute % 60), zone)
            if started + timedelta(minutes=40) < now:
                logs.append((_log(program, revision, session, started, by, len(logs)), session))
    saved = SessionLog.objects.bulk_create([log for log, _ in logs])
    ItemLog.objects.bulk_create(
        ItemLog(
            log=log, item_key=key, done_left=left, done_right=right, skipped="" if left or right else "no_time",
            rating=session.item_ratings.get(key, ""), reps_last_set=session.last_sets.get(key),
        )
        for log, (_, session) in zip(saved, logs, strict=True)
        for key, (left, right) in session.done.items()
    )
    _mornings(program, [session for _, session in logs], by, now, zone)


def _log(
    program: Program, revision: Revision, session: Session, started: datetime, by: User, number: int
) -> SessionLog:
    return SessionLog(
        log_id=uuid.uuid5(NAMESPACE, f"{program.public_id}/{number}"), program=program, revision=revision, day=session.day,
        started=started, received=started + timedelta(minutes=30), source=LogSource.PORTAL, by=by,
        pain_before=session.pain_before, pain_during=session.pain_during, effort=session.effort, rating=session.rating,
    )


def _mornings(program: Program, sessions: list[Session], by: User, now: datetime, zone: str) -> None:
    answers = {session.day: session.morning for session in sessions if session.morning is not None}
    rows = []
    for day, pain in answers.items():
        received = zones.lenient_instant(day + timedelta(days=1), time(8, 10), zone)
        if received < now:
            answer_id = uuid.uuid5(NAMESPACE, f"{program.public_id}/{day}/morning")
            rows.append(
                MorningAnswer(answer_id=answer_id, program=program, day=day, pain=pain, received=received, by=by)
            )
    MorningAnswer.objects.bulk_create(rows)
