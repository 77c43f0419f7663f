"""The end of a program's history, which is all that one more log asks for: what it costs does not grow with the years.

What was folded before is taken as stored. Whoever calls this falls back on the whole history wherever the end is not enough.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from uuid import UUID

from django.db.models import Q

from programs.following.models import Alert, DayRecord, ItemLog, MorningAnswer, SessionLog
from programs.following.rules import change
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan, newest_edits
from programs.following.rules.entry import ItemEntry
from programs.following.rules.fold import FoldedDay, days_through
from programs.following.rules.proposal import MOST_LOGS, Proposal
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import pauses_of
from programs.prescribing.rules.plan import Plan

ROWS = 30                      # reports of sessions that are read at least, if there are as many
WEEK = timedelta(days=7)       # of sessions that are read at least
DAY_COLUMNS = tuple(field.name for field in fields(FoldedDay))
LISTED = frozenset({"taper", "extend_kick_off", "reassess"})   # their evidence names sessions of longer ago


@dataclass(frozen=True, slots=True)
class Written:
    """What was just stored: its edits by log id, and the program's plans as they were read for it."""

    edits: Mapping[UUID, frozenset[int]]
    plans: Sequence[tuple[Revision, Plan]]


@dataclass(frozen=True, slots=True)
class Recent:
    """`course` holds the sessions and answers of `since` and later; `whole` when there are none before.

    `days` are as stored, `touched` those that the written logs are or were on. `before` and `after` are the sessions that
    the written logs stood for and stand for.
    """

    course: Course
    since: date
    whole: bool
    days: Mapping[date, FoldedDay]
    touched: frozenset[date]
    before: list[LoggedSession]
    after: list[LoggedSession]


def recent_of(program: Program, written: Written, today: date) -> Recent | None:
    """The end of a program's history around the logs just written; None when they or a missing day lie before it."""
    since = _since(program, today)
    numbers = {revision.pk: revision.number for revision, _ in written.plans}
    sessions = _sessions(program, numbers, since, written)
    ours = [session for session in sessions if session.log_id in written.edits]
    touched = frozenset(session.day for session in ours)
    course = Course(
        starts=program.starts, ended=program.ended,
        plans=tuple(EffectivePlan(revision.number, revision.effective_from, plan) for revision, plan in written.plans),
        pauses=tuple(PauseSpan(pause.first, pause.until) for pause in pauses_of(program)),
        sessions=tuple(session for session in newest_edits(sessions) if session.day >= since),
        mornings=_mornings(program, since),
        open_alerts=Alert.objects.filter(client=program.client_id, closed_at__isnull=True).count(),
    )
    days = {row[0]: FoldedDay(*row) for row in DayRecord.objects.filter(program=program).values_list(*DAY_COLUMNS)}
    if any(day < since for day in touched) or any(day not in days and day < since for day in days_through(course, today)):
        return None
    return Recent(
        course, since, since <= program.starts, days, touched,
        newest_edits(session for session in ours if session.edit not in written.edits[session.log_id]), newest_edits(ours),
    )


def _since(program: Program, today: date) -> date:
    """The first day that is read."""
    newest = SessionLog.objects.filter(program=program).order_by("-day", "-pk").values_list("day", flat=True)
    reached = newest[ROWS - 1:ROWS].first()
    return max(program.starts, min(today - WEEK, reached)) if reached else program.starts


def _mornings(program: Program, since: date) -> tuple[Morning, ...]:
    rows = MorningAnswer.objects.filter(program=program, day__gte=since).values_list("day", "pain", "pk")
    return tuple(Morning(*row) for row in rows)


def _sessions(program: Program, numbers: Mapping[int, int], since: date, written: Written) -> list[LoggedSession]:
    items: dict[int, list[ItemEntry]] = defaultdict(list)
    late = SessionLog.objects.filter(program=program, day__gte=since).order_by().values("log_id")
    # every edit of them: the newest may have moved the session to an earlier day
    wanted = Q(program=program) & (Q(log_id__in=late) | Q(log_id__in=list(written.edits)))
    logs = list(SessionLog.objects.filter(wanted).order_by().values_list(
        "pk", "log_id", "edit", "day", "revision_id", "pain_before", "pain_during", "effort", "rating", "started"
    ))
    rows = ItemLog.objects.filter(log__in=[log[0] for log in logs]).order_by("pk").values_list(
        "log_id", "item_key", "done_left", "done_right", "reps_last_set", "rating", "skipped", "level"
    )
    for log, key, left, right, reps, rating, skipped, level in rows:
        items[log].append(ItemEntry(key, left, right, reps, rating, skipped, level))
    return [
        LoggedSession(log_id, edit, day, numbers[revision], before, during, effort, felt, tuple(items[pk]), started)
        for pk, log_id, edit, day, revision, before, during, effort, felt, started in logs
    ]


def enough(program: Program, recent: Recent, proposals: Iterable[Proposal]) -> bool:
    """Whether the rules, which look at MOST_LOGS sessions at most of whole or item, saw all that they would have seen."""
    if recent.whole:
        return True
    sessions = newest_edits(recent.course.sessions)
    if len(sessions) < MOST_LOGS:
        return False
    if any(proposal.kind in LISTED and len(proposal.evidence.logs) < MOST_LOGS for proposal in proposals):
        return False
    newest = recent.course.newest
    short: set[int] = set()
    for item in newest.plan.items if newest else ():
        same = {
            plan.number for plan in recent.course.plans
            if (held := change.item_of(plan.plan, item.key)) and (held.level, held.dose) == (item.level, item.dose)
        }
        if sum(session.shown in same for session in sessions) < MOST_LOGS:
            short |= same
    earlier = SessionLog.objects.filter(program=program, day__lt=recent.since, revision__number__in=short)
    return not short or not earlier.exists()
