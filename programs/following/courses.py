"""The courses of many programs at once: nine queries however many there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db.models import Prefetch

from clinic.people.rules import zones
from programs.following.models import Alert, ItemLog, MorningAnswer, SessionLog
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan
from programs.following.rules.entry import ItemEntry
from programs.following.rules.replay import Past
from programs.library.models import Level
from programs.library.rules.dose import dose_from_json
from programs.prescribing.models import Item, Pause, Program, Revision
from programs.prescribing.queries import plan_of


def pasts_of(programs: Sequence[Program]) -> dict[int, Past]:
    """Each program's course with the days on which its parts came, by program key. The programs come with their client."""
    keys = [program.pk for program in programs]
    revisions, pauses, mornings = _revisions(keys), _pauses(keys), _mornings(keys)
    numbers = {row.pk: row.number for rows in revisions.values() for row in rows}
    sessions, alerts, ladders = _sessions(keys, numbers), _alerts(programs), _ladders()
    found = {}
    for program in programs:
        zone, rows = program.client.zone, revisions[program.pk]
        course = Course(
            starts=program.starts,
            ended=program.ended,
            plans=tuple(EffectivePlan(row.number, row.effective_from, plan_of(row)) for row in rows),
            pauses=tuple(pauses[program.pk]),
            sessions=tuple(sessions[program.pk]),
            mornings=tuple(mornings[program.pk]),
            open_alerts=sum(closed is None for _, closed in alerts[program.client_id]),
        )
        found[program.pk] = Past(
            course, {row.number: zones.day_in(row.at, zone) for row in rows if row.number > 1},
            tuple(
                (zones.day_in(at, zone), zones.day_in(closed, zone) if closed else None)
                for at, closed in alerts[program.client_id]
            ),
            ladders,
        )
    return found


def _revisions(keys: list[int]) -> dict[int, list[Revision]]:
    rows = (
        Revision.objects.filter(program__in=keys)
        .prefetch_related("phases", Prefetch("items", Item.objects.select_related("exercise", "level")))
        .order_by("program", "number")
    )
    found: dict[int, list[Revision]] = defaultdict(list)
    for row in rows:
        found[row.program_id].append(row)
    return found


def _pauses(keys: list[int]) -> dict[int, list[PauseSpan]]:
    found: dict[int, list[PauseSpan]] = defaultdict(list)
    rows = Pause.objects.filter(program__in=keys).order_by("first", "pk")
    for program, first, until in rows.values_list("program_id", "first", "until"):
        found[program].append(PauseSpan(first, until))
    return found


def _mornings(keys: list[int]) -> dict[int, list[Morning]]:
    found: dict[int, list[Morning]] = defaultdict(list)
    rows = MorningAnswer.objects.filter(program__in=keys).order_by("pk")
    for program, pk, day, pain in rows.values_list("program_id", "pk", "day", "pain"):
        found[program].append(Morning(day, pain, pk))
    return found


def _sessions(keys: list[int], numbers: dict[int, int]) -> dict[int, list[LoggedSession]]:
    items: dict[int, list[ItemEntry]] = defaultdict(list)
    entries = ItemLog.objects.filter(log__program__in=keys).order_by("pk")
    for log, key, left, right, reps, rating, skipped, level in entries.values_list(
        "log_id", "item_key", "done_left", "done_right", "reps_last_set", "rating", "skipped", "level"
    ).iterator(chunk_size=2000):
        items[log].append(ItemEntry(key, left, right, reps, rating, skipped, level))
    found: dict[int, list[LoggedSession]] = defaultdict(list)
    logs = SessionLog.objects.filter(program__in=keys).values_list(
        "pk", "program_id", "revision_id", "log_id", "edit", "day", "pain_before", "pain_during", "effort", "rating",
        "started",
    )
    for pk, program, revision, log_id, edit, day, before, during, effort, rating, started in logs.iterator(chunk_size=2000):
        found[program].append(LoggedSession(
            log_id, edit, day, numbers[revision], before, during, effort, rating, tuple(items.pop(pk, ())), started
        ))
    return found


def _alerts(programs: Sequence[Program]) -> dict[int, list[tuple[Any, Any]]]:
    found: dict[int, list[tuple[Any, Any]]] = defaultdict(list)
    rows = Alert.objects.filter(client__in={program.client_id for program in programs})
    for client, at, closed in rows.values_list("client_id", "at", "closed_at"):
        found[client].append((at, closed))
    return found


def _ladders() -> dict[str, list[Rung]]:
    """The levels of every exercise with the library's dose, easiest first."""
    ladders: dict[str, list[Rung]] = defaultdict(list)
    rows = Level.objects.order_by("exercise__slug", "number")
    for slug, number, dose in rows.values_list("exercise__slug", "number", "dose"):
        ladders[slug].append(Rung(number, dose_from_json(dose)))
    return dict(ladders)


def first_day_of(program: Program, weeks: int, today: date) -> date:
    """The first of `weeks` weeks that end today, or the program's own first day."""
    return max(program.starts, date.fromordinal(today.toordinal() - 7 * weeks + 1))
