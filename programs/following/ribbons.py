"""The ribbons of many programs at once, for lists: five queries however many there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db.models import Prefetch

from programs.following.queries import days_of, ribbon_from, today_of
from programs.prescribing.models import Item, Pause, Program, Revision
from programs.prescribing.queries import plan_of
from programs.prescribing.rules.plan import Plan
from programs.prescribing.rules.ribbon import RibbonDay

Plans = dict[int, list[tuple[date, Plan]]]
Pauses = dict[int, list[tuple[date, date | None]]]


def ribbons_of(programs: Sequence[Program], *, before: int, after: int, now: datetime) -> dict[int, list[RibbonDay]]:
    """Each program's ribbon from `before` days before its own today to `after` days after it, by program key.

    The programs come with their client loaded. Five queries: day records, revisions with phases and items, pauses.
    """
    todays = {program.pk: today_of(program, now) for program in programs}
    if not todays:
        return {}
    reach = timedelta(days=before)
    records = days_of(todays, min(todays.values()) - reach, max(todays.values()))
    plans, pauses = _plans(todays), _pauses(todays)
    found = {}
    for program in programs:
        today = todays[program.pk]
        first, last = today - reach, today + timedelta(days=after)
        past = [row for row in records[program.pk] if first <= row.day <= today]
        found[program.pk] = ribbon_from(program, past, plans[program.pk], pauses[program.pk], first, last, today)
    return found


def _plans(keys: dict[int, date]) -> Plans:
    """Every revision's plan by program, oldest first."""
    rows = (
        Revision.objects.filter(program__in=list(keys))
        .prefetch_related("phases", Prefetch("items", Item.objects.select_related("exercise", "level")))
        .order_by("program", "number")
    )
    found: Plans = defaultdict(list)
    for revision in rows:
        found[revision.program_id].append((revision.effective_from, plan_of(revision)))
    return found


def _pauses(keys: dict[int, date]) -> Pauses:
    found: Pauses = defaultdict(list)
    rows = Pause.objects.filter(program__in=list(keys)).order_by("first", "pk")
    for program, first, until in rows.values_list("program_id", "first", "until"):
        found[program].append((first, until))
    return found
