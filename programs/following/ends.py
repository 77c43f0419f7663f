"""Reads of the end of a program's history, each put into SQL once: every log and morning answer asks for them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import fields
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

from clinic.people.prepared import DAY, READER, Prepared
from programs.following.models import Alert, DayRecord, ItemLog, ItemRun, MorningAnswer, PhaseRun, SessionLog
from programs.following.rules.adherence import Tally
from programs.following.rules.course import LoggedSession, Morning, PauseSpan
from programs.following.rules.earlier import KnownRun
from programs.following.rules.entry import ItemEntry
from programs.following.rules.fold import FoldedDay
from programs.prescribing.models import Pause, Program

MINE = Q(program=READER)
LOG = (
    "pk", "log_id", "edit", "day", "revision_id", "pain_before", "pain_during", "effort", "rating", "started",
)
ITEM = ("log_id", "item_key", "done_left", "done_right", "reps_last_set", "rating", "skipped", "level")
RUN = ("kind", "first", "last", "days", "silent", "asked", "done", "credit", "seconds", "kept", "lapsed")
LEVEL = tuple(field.name for field in ItemRun._meta.concrete_fields if field.name not in ("id", "program"))
STATE = ("as_of", "rules", "pain_last")


def _late() -> QuerySet[SessionLog, Any]:
    return SessionLog.objects.filter(MINE, day__gte=DAY).order_by().values("log_id")


_NEWEST = Prepared(lambda rows: SessionLog.objects.filter(MINE).order_by("-day", "-pk").values_list("day")[
    int(rows) - 1:int(rows)
])
# every edit of them: the newest may have moved the session to an earlier day
_LOGS = Prepared(lambda _: SessionLog.objects.filter(MINE, log_id__in=_late()).order_by().values_list(*LOG))
_ITEMS = Prepared(lambda _: ItemLog.objects.filter(
    log__program=READER, log__log_id__in=_late()
).order_by().values_list(*ITEM))
_MORNINGS = Prepared(lambda _: MorningAnswer.objects.filter(MINE, day__gte=DAY).order_by().values_list("day", "pain", "pk"))
_DAYS = Prepared(lambda _: DayRecord.objects.filter(MINE, day__gte=DAY).order_by("day").values_list(
    *(field.name for field in fields(FoldedDay))
))
_ANSWERED = Prepared(lambda _: DayRecord.objects.filter(
    MINE, day__lte=DAY, logged=True
).order_by("-day").values_list("day")[:1])
_RUNS = Prepared(lambda _: PhaseRun.objects.filter(MINE).order_by("number").values_list(
    "number", *RUN, *(f"program__state__{name}" for name in STATE)
))
_LEVELS = Prepared(lambda _: ItemRun.objects.filter(MINE).order_by().values_list(*LEVEL))
_PAUSES = Prepared(lambda _: Pause.objects.filter(MINE).order_by("first", "pk").values_list("first", "until"))
_ALERTS = Prepared(lambda _: Alert.objects.filter(
    client=READER, closed_at__isnull=True
).order_by().values_list("pk"))


def newest_day(program: Program, rows: int) -> date | None:
    """The day of the `rows`-th newest report; None when there are not as many."""
    found = _NEWEST.rows(str(rows), reader=program.pk)
    return found[0][0] if found else None


def sessions_since(
    program: Program, numbers: Mapping[int, int], since: date, also: Collection[date] = ()
) -> list[LoggedSession]:
    """Every edit of the sessions that were ever reported for `since` or later, or for one of the days in `also`."""
    logs, rows = _LOGS.rows(reader=program.pk, day=since), _ITEMS.rows(reader=program.pk, day=since)
    if also:
        known = {log[0] for log in logs}
        there = SessionLog.objects.filter(program=program, day__in=also).order_by().values("log_id")
        more = SessionLog.objects.filter(program=program, log_id__in=there).exclude(pk__in=known).order_by()
        logs += (held := list(more.values_list(*LOG)))
        rows += list(ItemLog.objects.filter(log__in=[log[0] for log in held]).order_by().values_list(*ITEM))
    items: dict[int, list[ItemEntry]] = defaultdict(list)
    for log, *entry in rows:
        items[log].append(ItemEntry(*entry))
    return [
        LoggedSession(log_id, edit, day, numbers[revision], before, during, effort, felt, tuple(items[pk]), started)
        for pk, log_id, edit, day, revision, before, during, effort, felt, started in logs
    ]


def mornings_since(program: Program, since: date) -> tuple[Morning, ...]:
    """Morning answers about `since` and later days."""
    return tuple(Morning(*row) for row in _MORNINGS.rows(reader=program.pk, day=since))


def days_since(program: Program, since: date) -> dict[date, FoldedDay]:
    """The stored days from `since` on, oldest first."""
    return {row[0]: FoldedDay(*row) for row in _DAYS.rows(reader=program.pk, day=since)}


def answered_by(program: Program, day: date) -> date | None:
    """The last day with an answer, as it is stored, on `day` or before it."""
    found = _ANSWERED.rows(reader=program.pk, day=day)
    return found[0][0] if found else None


def runs_of(program: Program) -> tuple[list[KnownRun], tuple[date, int, int | None]] | None:
    """The stored runs of phases, oldest first, with the state's day, rules and last pain; None when some are missing."""
    rows = _RUNS.rows(reader=program.pk)
    if not rows or rows[0][-3] is None or any(row[0] != place for place, row in enumerate(rows)):
        return None
    return [
        KnownRun(kind, first, last, Tally.of(days, silent, asked, done, credit, seconds), kept, lapsed)
        for _, kind, first, last, days, silent, asked, done, credit, seconds, kept, lapsed, *_ in rows
    ], rows[0][-3:]


def levels_of(program: Program) -> list[dict[str, Any]]:
    """The stored runs of levels: their columns by name."""
    return [dict(zip(LEVEL, row, strict=True)) for row in _LEVELS.rows(reader=program.pk)]


def pauses_of(program: Program) -> tuple[PauseSpan, ...]:
    """Pauses, oldest first."""
    return tuple(PauseSpan(*row) for row in _PAUSES.rows(reader=program.pk))


def open_alerts(program: Program) -> int:
    """How many red-flag answers of the program's client are open."""
    return len(_ALERTS.rows(reader=program.client_id))
