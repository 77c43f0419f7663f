"""Prove that days and states follow from the records: work all of them out anew and compare."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice
from typing import Any

from django.db import transaction

from programs.following.actions import saving
from programs.following.actions.saving_many import Worked, save_many
from programs.following.courses import pasts_of
from programs.following.models import DayRecord, ItemRun, PhaseRun, ProgramState, RibbonRow, RuleSet
from programs.following.ribbons import ribbon_text
from programs.following.rules import ruleset
from programs.following.rules.fold import Folded, FoldedDay, fold
from programs.prescribing.models import Program

CHUNK = 50        # programs read at once: what is held in memory
MOST_NAMED = 200  # differences kept by name; the rest are counted
Stored = dict[date, tuple[Any, ...]]   # what is stored of each day, in the order of saving.DAY_FIELDS
log = logging.getLogger("intervale.following")


@dataclass(slots=True)
class Rebuilt:
    """How many programs were looked at, and what differed, as `program: what`; `more` were not kept by name."""

    programs: int = 0
    days: int = 0
    differences: list[str] = field(default_factory=list)
    more: int = 0

    def add(self, found: Iterable[str]) -> None:
        """Keep the first ones by name, count the others."""
        for line in found:
            if len(self.differences) < MOST_NAMED:
                self.differences.append(line)
            else:
                self.more += 1


def rebuild_following(*, now: datetime, write: bool = False) -> Rebuilt:
    """Fold every program as of the day and the rule set of its stored state and compare row by row; `write` stores it.

    Read in chunks, each in a transaction of its own: memory does not grow with the practice, and nobody waits for the whole.
    The counts go to the log.
    """
    row, rules = saving.rules_now(now)
    known = {row.version: rules}
    found = Rebuilt()
    keys = iter(list(ProgramState.objects.order_by("program").values_list("program_id", flat=True)))
    while chunk := list(islice(keys, CHUNK)):
        _chunk(chunk, known, rules, found, write)
    log.info("rebuilt", {
        "programs": found.programs, "days": found.days, "differences": len(found.differences) + found.more,
        "written": write,
    })
    return found


@transaction.atomic
def _chunk(
    keys: list[int], known: dict[int, ruleset.RuleSet], newest: ruleset.RuleSet, found: Rebuilt, write: bool
) -> None:
    # locked as every write of following does, so that no log comes between reading and comparing
    list(Program.objects.select_for_update().filter(pk__in=keys).order_by("pk").values_list("pk", flat=True))
    programs = list(Program.objects.filter(pk__in=keys).select_related("client", "state").order_by("pk"))
    pasts, held = pasts_of(programs), _days(keys)
    runs, drawn = _runs(keys), dict(RibbonRow.objects.filter(program__in=keys).values_list("program", "days"))
    worked = []
    for program in programs:
        state, course = program.state, pasts[program.pk].course
        rules = _rules(known, state.rules) or newest
        folded = fold(course, state.as_of, rules.bands)
        each = Worked(
            program, folded, state.rules, *_other_days(held[program.pk], folded),
            saving.run_rows(program, course, folded, rules), ribbon_text(program, course, folded, state.as_of),
        )
        found.programs += 1
        found.days += len(folded.days)
        different = _differences(held[program.pk], state, each) + _run_differences(
            runs[program.pk], drawn.get(program.pk), each.runs, each.ribbon
        )
        found.add(f"{program.public_id}: {what}" for what in different)
        if different:
            worked.append(each)
    if write and worked:
        save_many(worked)


def _days(keys: list[int]) -> dict[int, Stored]:
    found: dict[int, Stored] = {key: {} for key in keys}
    rows = DayRecord.objects.filter(program__in=keys).order_by()
    for program, day, *values in rows.values_list("program_id", "day", *saving.DAY_FIELDS).iterator(chunk_size=2000):
        found[program][day] = tuple(values)
    return found


def _other_days(held: Stored, folded: Folded) -> tuple[list[FoldedDay], set[date]]:
    """The days that are not stored as they follow, and those that are stored and do not follow."""
    return (
        [day for day in folded.days if held.get(day.day) != saving.day_values(day)],
        held.keys() - {day.day for day in folded.days},
    )


def _runs(keys: list[int]) -> dict[int, list[PhaseRun | ItemRun]]:
    found: dict[int, list[PhaseRun | ItemRun]] = {key: [] for key in keys}
    for row in PhaseRun.objects.filter(program__in=keys).order_by("program", "number"):
        found[row.program_id].append(row)
    for item in ItemRun.objects.filter(program__in=keys).order_by("program", "item_key", "number"):
        found[item.program_id].append(item)
    return found


def _run_differences(
    held: Sequence[PhaseRun | ItemRun], drawn: str | None, wanted: Sequence[PhaseRun | ItemRun], ribbon: str
) -> list[str]:
    def values(rows: Sequence[PhaseRun | ItemRun], kind: type[PhaseRun] | type[ItemRun]) -> list[list[Any]]:
        names = saving.run_fields(kind)
        return sorted(([getattr(row, name) for name in names] for row in rows if isinstance(row, kind)), key=repr)

    found = [
        f"{word} differ"
        for word, kind in (("phases", PhaseRun), ("levels", ItemRun)) if values(held, kind) != values(wanted, kind)
    ]
    return found if drawn == ribbon else [*found, "ribbon differs"]


def _rules(known: dict[int, ruleset.RuleSet], version: int) -> ruleset.RuleSet | None:
    if version not in known:
        row = RuleSet.objects.filter(version=version).first()
        if row is None:
            return None
        known[version] = ruleset.read(row.version, row.thresholds)
    return known[version]


def _differences(held: Stored, state: ProgramState, each: Worked) -> list[str]:
    found = [f"{day} is stored and does not follow" for day in sorted(each.spare)]
    for day in each.days:
        stored = held.get(day.day)
        if stored is None:
            found.append(f"{day.day} follows and is not stored")
        else:
            pairs = zip(saving.DAY_FIELDS, stored, saving.day_values(day), strict=True)
            found += [f"{day.day} {name} differs" for name, was, value in pairs if was != value]
    values = saving.state_values(each.folded)
    return found + [f"state {name} differs" for name in saving.STATE_FIELDS if getattr(state, name) != values[name]]
