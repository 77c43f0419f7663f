"""The ribbons of many programs at once, for lists: as they are stored, or drawn anew in five queries however many."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db.models import Prefetch

from programs.following.queries import days_of, ribbon_from, today_of
from programs.following.rules.course import Course
from programs.following.rules.fold import Folded
from programs.prescribing.models import Item, Pause, Program, Revision
from programs.prescribing.queries import plan_of
from programs.prescribing.rules.plan import Plan
from programs.prescribing.rules.ribbon import RibbonDay

Plans = dict[int, list[tuple[date, Plan]]]
Pauses = dict[int, list[tuple[date, date | None]]]
BEFORE, AFTER = 28, 14          # days of a stored ribbon: back from its day, and ahead of it


def ribbon_text(program: Program, course: Course, folded: Folded, today: date) -> str:
    """The ribbon around `today` as it is stored."""
    first, last = today - timedelta(days=BEFORE), today + timedelta(days=AFTER)
    plans = [(plan.effective_from, plan.plan) for plan in sorted(course.plans, key=lambda plan: plan.number)]
    pauses = [(pause.first, pause.until) for pause in course.pauses]
    past = [day for day in folded.days if day.day >= first]
    return ribbon_json(ribbon_from(program, past, plans, pauses, first, last, today))


def ribbon_json(days: Sequence[RibbonDay]) -> str:
    """A ribbon's days as they are stored."""
    rows = [[day.day.isoformat(), day.state, day.minimum, day.full, day.done, int(day.today)] for day in days]
    return json.dumps(rows, separators=(",", ":"))


def ribbon_days(text: str) -> tuple[RibbonDay, ...]:
    """A stored ribbon's days."""
    return tuple(
        RibbonDay(date.fromisoformat(day), state, minimum, full, done, bool(today))
        for day, state, minimum, full, done, today in json.loads(text)
    )


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
