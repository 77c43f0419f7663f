"""Keeping the read models equal to the fold: rows are written only where something changed."""

from __future__ import annotations

from dataclasses import asdict, fields
from datetime import datetime
from typing import Any

from programs.following.actions.load_rule_set import load_rule_set
from programs.following.models import DayRecord, ProgramState, RuleSet
from programs.following.queries import newest_rule_set
from programs.following.rules import ruleset
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


def save(program: Program, folded: Folded, version: int) -> int:
    """Write what differs from what is stored; the number of rows touched. `version`: the rule set it was worked out with."""
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
    values = {**state_values(folded), "rules": version}
    state = ProgramState.objects.filter(program=program).first()
    if state is not None and all(getattr(state, name) == value for name, value in values.items()):
        return len(new) + len(changed) + len(held)
    ProgramState.objects.update_or_create(program=program, defaults=values)
    return len(new) + len(changed) + len(held) + 1
