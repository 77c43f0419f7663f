"""Keeping the read models equal to the fold: rows are written only where something changed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from datetime import datetime
from functools import lru_cache
from itertools import zip_longest
from operator import attrgetter
from typing import Any

from django.db.models import TextField
from django.db.models.functions import Cast

from clinic.people.prepared import Prepared
from programs.following import ends
from programs.following.actions.load_rule_set import load_rule_set
from programs.following.models import DayRecord, ItemRun, PhaseRun, ProgramState, RibbonRow, RuleSet
from programs.following.queries import newest_rule_set
from programs.following.recent import Recent
from programs.following.ribbons import ribbon_text
from programs.following.rules import ruleset, runs
from programs.following.rules.adherence import MICRO
from programs.following.rules.course import Course
from programs.following.rules.fold import Folded, FoldedDay, FoldedState
from programs.prescribing.models import Program

DAY_FIELDS = tuple(field.name for field in fields(FoldedDay) if field.name != "day")
STATE_FIELDS = tuple(field.name for field in fields(FoldedState))
day_values = attrgetter(*DAY_FIELDS)   # of a folded day, in the order of DAY_FIELDS
COUNTS = ("sessions", "done", "credit", "left", "right", *runs.SKIPS)


def rules_now(now: datetime) -> tuple[RuleSet, ruleset.RuleSet]:
    """The rule set that counts, as a row and as numbers; the default is loaded when there is none yet."""
    row = newest_rule_set() or load_rule_set(now=now)
    return row, ruleset.read(row.version, row.thresholds)


_NEWEST = Prepared(lambda _: RuleSet.objects.order_by("-version").values_list(
    "pk", "version", Cast("thresholds", TextField())
)[:1])


def rule_numbers(now: datetime) -> tuple[int, ruleset.RuleSet]:
    """The same with the row's key alone, for what comes with every log: thresholds that were read before are known."""
    rows = _NEWEST.rows()
    if not rows:
        row, rules = rules_now(now)
        return row.pk, rules
    return rows[0][0], _rules(*rows[0][1:])


@lru_cache(maxsize=64)
def _rules(version: int, thresholds: str) -> ruleset.RuleSet:
    return ruleset.read(version, json.loads(thresholds))


def state_values(folded: Folded) -> dict[str, Any]:
    """The columns of the program's state that follow from its records."""
    return {**asdict(folded.state), "reasons": [dict(reason) for reason in folded.state.reasons]}


def run_rows(program: Program, course: Course, folded: Folded, rules: ruleset.RuleSet) -> list[PhaseRun | ItemRun]:
    """The program's phases and levels as rows, not stored yet."""
    return [*phase_rows(program, folded, rules), *item_rows(program, runs.item_runs(course))]


def phase_rows(program: Program, folded: Folded, rules: ruleset.RuleSet) -> list[PhaseRun]:
    """The program's phases as rows, not stored yet."""
    phases = runs.phase_runs(folded, folded.state.as_of, rules.bands.silent_after)
    return [PhaseRun(program=program, **asdict(run)) for run in phases]


def item_rows(program: Program, found: Sequence[runs.ItemRun]) -> list[ItemRun]:
    """Levels as rows, not stored yet."""
    rows = []
    for run in found:
        values = asdict(run)
        rows.append(ItemRun(program=program, **values.pop("skipped"), **values))
    return rows


def save(program: Program, course: Course, folded: Folded, rules: ruleset.RuleSet) -> int:
    """Write what differs from what is stored; the number of rows touched. `rules`: those it was worked out with."""
    touched = _save_days(program, folded)
    touched += match_rows(program, ItemRun, item_rows(program, runs.item_runs(course)))
    touched += match_rows(program, PhaseRun, phase_rows(program, folded, rules))
    return touched + _save_whole(program, course, folded, rules)


def save_recent(program: Program, recent: Recent, folded: Folded, rules: ruleset.RuleSet) -> int | None:
    """The same where only the end of the history was read. None, and nothing written, when the stored levels are others
    than the plans make."""
    levels = _levels_after(program, recent)
    if levels is None:
        return None
    new = [day for day in folded.days if recent.held.get(day.day) != day]
    upsert(DayRecord, [
        DayRecord(program_id=program.pk, day=day.day, **dict(zip(DAY_FIELDS, day_values(day), strict=True))) for day in new
    ], ["program", "day"], DAY_FIELDS)
    gone = recent.held.keys() - {day.day for day in folded.days}
    if gone:
        DayRecord.objects.filter(program=program, day__in=gone).delete()
    upsert(ItemRun, levels, ["program", "item_key", "number"], COUNTS)
    touched = len(new) + len(gone) + len(levels) + _save_phases(program, recent, folded, rules)
    return touched + _save_whole(program, recent.course, folded, rules, look=False)


def _save_phases(program: Program, recent: Recent, folded: Folded, rules: ruleset.RuleSet) -> int:
    wanted = runs.phase_runs(folded, folded.state.as_of, rules.bands.silent_after)
    changed = [
        run for run, known in zip_longest(wanted, recent.runs[:len(wanted)]) if known is None or run.known != known
    ]
    upsert(
        PhaseRun, [PhaseRun(program_id=program.pk, **asdict(run)) for run in changed], ["program", "number"],
        [name for name in run_fields(PhaseRun) if name != "number"],
    )
    spare = len(recent.runs) - len(wanted)
    if spare > 0:
        PhaseRun.objects.filter(program=program, number__gte=len(wanted)).delete()
    return len(changed) + max(spare, 0)


def _levels_after(program: Program, recent: Recent) -> list[ItemRun] | None:
    """The stored levels that the written logs change, with what they were before taken off and what they are now added."""
    plus, minus = (runs.runs_with(recent.course, found) for found in (recent.after, recent.before))
    held = {(row["item_key"], row["number"]): row for row in ends.levels_of(program)}
    if held.keys() != {(run.item_key, run.number) for run in plus}:
        return None
    changed = []
    for more, less in zip(plus, minus, strict=True):
        row = held[more.item_key, more.number]
        if any(row[name] != getattr(more, name) for name in ("exercise", "level", "first", "until")):
            return None
        added, taken = _counts(more), _counts(less)
        sums = {name: row[name] + added[name] - taken[name] for name in COUNTS}
        sums["credit"] = sum(
            sign * round(each["credit"] * MICRO) for sign, each in ((1, row), (1, added), (-1, taken))
        ) / MICRO
        if any(row[name] != value for name, value in sums.items()):
            changed.append(ItemRun(program_id=program.pk, **{**row, **sums}))
    return changed


def _counts(run: runs.ItemRun) -> dict[str, Any]:
    return {
        "sessions": run.sessions, "done": run.done, "credit": run.credit, "left": run.left, "right": run.right, **run.skipped
    }


def upsert(kind: Any, rows: Sequence[Any], unique: Sequence[str], names: Sequence[str], batch: int = 200) -> None:
    """Insert rows, or give those that are there these columns: one statement, where a bulk update makes a CASE of each."""
    for row in rows:
        row.pk = None
    if rows:
        kind._default_manager.bulk_create(
            rows, update_conflicts=True, unique_fields=unique, update_fields=names, batch_size=batch
        )


def _save_whole(
    program: Program, course: Course, folded: Folded, rules: ruleset.RuleSet, *, look: bool = True
) -> int:
    """Ribbon and state: worked out anew each time. `look` whether they differ before writing them."""
    as_of = folded.state.as_of
    touched = _put(program, RibbonRow, {"as_of": as_of, "days": ribbon_text(program, course, folded, as_of)}, look)
    return touched + _put(program, ProgramState, {**state_values(folded), "rules": rules.version}, look)


def _save_days(program: Program, folded: Folded) -> int:
    held = {row.day: row for row in DayRecord.objects.filter(program=program)}
    new, changed = [], []
    for day in folded.days:
        values = {name: getattr(day, name) for name in DAY_FIELDS}
        row = held.pop(day.day, None)
        if row is None:
            new.append(DayRecord(program=program, day=day.day, **values))
        elif any(getattr(row, name) != value for name, value in values.items()):
            for name, value in values.items():
                setattr(row, name, value)
            changed.append(row)
    DayRecord.objects.bulk_create(new, batch_size=200)
    upsert(DayRecord, changed, ["program", "day"], DAY_FIELDS)
    changes = len(new) + len(changed) + len(held)
    if held:
        DayRecord.objects.filter(pk__in=[row.pk for row in held.values()]).delete()
    return changes


def _place(row: PhaseRun | ItemRun) -> tuple[Any, int]:
    return getattr(row, "item_key", None), row.number


def match_rows(program: Program, kind: type[PhaseRun] | type[ItemRun], wanted: Sequence[PhaseRun | ItemRun]) -> int:
    """Make the stored rows of one kind equal to those wanted; the number of rows touched."""
    names = run_fields(kind)
    held = {_place(row): row for row in kind._default_manager.filter(program=program)}
    new, changed = [], []
    for row in wanted:
        stored = held.pop(_place(row), None)
        if stored is None:
            new.append(row)
        elif any(getattr(stored, name) != getattr(row, name) for name in names):
            changed.append(row)
    if new:
        kind._default_manager.bulk_create(new)   # type: ignore[arg-type]
    count = len(new) + len(changed) + len(held)
    unique = ["program", "number"] if kind is PhaseRun else ["program", "item_key", "number"]
    upsert(kind, changed, unique, [name for name in names if name not in unique])
    if held:
        kind._default_manager.filter(pk__in=[row.pk for row in held.values()]).delete()
    return count


def run_fields(kind: type[PhaseRun] | type[ItemRun]) -> list[str]:
    """What a row of this kind says, its program and key apart."""
    return [field.name for field in kind._meta.concrete_fields if field.name not in ("id", "program")]


def _put(program: Program, kind: type[ProgramState] | type[RibbonRow], values: dict[str, Any], look: bool) -> int:
    """One row a program; 1 when it had to be written."""
    held = kind._default_manager.filter(program=program)
    row = held.first() if look else None
    if row is not None and all(getattr(row, name) == value for name, value in values.items()):
        return 0
    if not held.update(**values):
        kind._default_manager.create(program=program, **values)
    return 1
