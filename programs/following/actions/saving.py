"""Keeping the read models equal to the fold: rows are written only where something changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, fields
from datetime import datetime
from typing import Any

from programs.following.actions.load_rule_set import load_rule_set
from programs.following.models import DayRecord, ItemRun, PhaseRun, ProgramState, RibbonRow, RuleSet
from programs.following.queries import newest_rule_set
from programs.following.ribbons import ribbon_text
from programs.following.rules import ruleset, runs
from programs.following.rules.course import Course
from programs.following.rules.fold import Folded, FoldedDay, FoldedState
from programs.prescribing.models import Program

DAY_FIELDS = tuple(field.name for field in fields(FoldedDay) if field.name != "day")
STATE_FIELDS = tuple(field.name for field in fields(FoldedState))


def rules_now(now: datetime) -> tuple[RuleSet, ruleset.RuleSet]:
    """The rule set that counts, as a row and as numbers; the default is loaded when there is none yet."""
    row = newest_rule_set() or load_rule_set(now=now)
    return row, ruleset.read(row.version, row.thresholds)


def state_values(folded: Folded) -> dict[str, Any]:
    """The columns of the program's state that follow from its records."""
    return {**asdict(folded.state), "reasons": [dict(reason) for reason in folded.state.reasons]}


def run_rows(program: Program, course: Course, folded: Folded, rules: ruleset.RuleSet) -> list[PhaseRun | ItemRun]:
    """The program's phases and levels as rows, not stored yet."""
    phases = runs.phase_runs(folded, folded.state.as_of, rules.bands.silent_after)
    rows: list[PhaseRun | ItemRun] = [PhaseRun(program=program, **asdict(run)) for run in phases]
    for run in runs.item_runs(course):
        values = asdict(run)
        rows.append(ItemRun(program=program, **values.pop("skipped"), **values))
    return rows


def save(program: Program, course: Course, folded: Folded, rules: ruleset.RuleSet) -> int:
    """Write what differs from what is stored; the number of rows touched. `rules`: those it was worked out with."""
    touched = _save_days(program, folded)
    rows = run_rows(program, course, folded, rules)
    touched += match_rows(program, PhaseRun, [row for row in rows if isinstance(row, PhaseRun)])
    touched += match_rows(program, ItemRun, [row for row in rows if isinstance(row, ItemRun)])
    as_of = folded.state.as_of
    touched += _put(program, RibbonRow, {"as_of": as_of, "days": ribbon_text(program, course, folded, as_of)})
    return touched + _put(program, ProgramState, {**state_values(folded), "rules": rules.version})


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
    DayRecord.objects.bulk_update(changed, DAY_FIELDS, batch_size=100)
    if held:
        DayRecord.objects.filter(pk__in=[row.pk for row in held.values()]).delete()
    return len(new) + len(changed) + len(held)


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
            row.pk = stored.pk
            changed.append(row)
    if new:
        kind._default_manager.bulk_create(new)   # type: ignore[arg-type]
    if changed:
        kind._default_manager.bulk_update(changed, names)   # type: ignore[arg-type]
    if held:
        kind._default_manager.filter(pk__in=[row.pk for row in held.values()]).delete()
    return len(new) + len(changed) + len(held)


def run_fields(kind: type[PhaseRun] | type[ItemRun]) -> list[str]:
    """What a row of this kind says, its program and key apart."""
    return [field.name for field in kind._meta.concrete_fields if field.name not in ("id", "program")]


def _put(program: Program, kind: type[ProgramState] | type[RibbonRow], values: dict[str, Any]) -> int:
    """One row a program; 1 when it had to be written."""
    held = kind._default_manager.filter(program=program).first()
    if held is not None and all(getattr(held, name) == value for name, value in values.items()):
        return 0
    kind._default_manager.update_or_create(program=program, defaults=values)
    return 1
