"""Keeping the read models of many programs equal to their folds at once: a few statements, however many programs differ."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from programs.following.actions import saving
from programs.following.models import DayRecord, ItemRun, PhaseRun, ProgramState, RibbonRow
from programs.following.rules.fold import Folded, FoldedDay
from programs.prescribing.models import Program

BATCH = 2000      # rows a statement


@dataclass(frozen=True, slots=True)
class Worked:
    """A program whose rows differ from what is stored, with what is to stand: `days` are those that differ, `spare` those
    that do not follow; runs, ribbon and state are whole. `rules` is the version that they were worked out with."""

    program: Program
    folded: Folded
    rules: int
    days: Sequence[FoldedDay]
    spare: Collection[date]
    runs: Sequence[PhaseRun | ItemRun]
    ribbon: str


def save_many(worked: Sequence[Worked]) -> None:
    """Write them all. Part of a larger action's transaction, with the programs locked."""
    days = [
        DayRecord(
            program_id=each.program.pk, day=day.day,
            **dict(zip(saving.DAY_FIELDS, saving.day_values(day), strict=True)),
        )
        for each in worked for day in each.days
    ]
    saving.upsert(DayRecord, days, ["program", "day"], saving.DAY_FIELDS, BATCH)
    for each in worked:
        if each.spare:
            DayRecord.objects.filter(program=each.program, day__in=each.spare).delete()
    keys = [each.program.pk for each in worked]
    for kind in (PhaseRun, ItemRun):
        rows = [row for each in worked for row in each.runs if isinstance(row, kind)]
        kind._default_manager.filter(program__in=keys).delete()
        kind._default_manager.bulk_create(rows, batch_size=BATCH)   # type: ignore[arg-type]
    ribbons = [RibbonRow(program=each.program, as_of=each.folded.state.as_of, days=each.ribbon) for each in worked]
    saving.upsert(RibbonRow, ribbons, ["program"], ["as_of", "days"], BATCH)
    states = [
        ProgramState(program=each.program, rules=each.rules, **saving.state_values(each.folded)) for each in worked
    ]
    saving.upsert(ProgramState, states, ["program"], ["rules", *saving.STATE_FIELDS], BATCH)
