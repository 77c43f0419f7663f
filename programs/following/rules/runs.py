"""A program's way in a few rows: its phases one after another, and each exercise's levels one after another.

Charts of a whole practice read these rows instead of days and logs. Conventions are those of rules.adherence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import groupby
from uuid import UUID

from programs.following.rules import adherence
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, newest_edits
from programs.following.rules.fold import Folded
from programs.following.rules.survival import followed
from programs.prescribing.rules.plan import ItemPlan

MICRO = 1_000_000   # credits are added as whole millionths: the sum is the same in any order, to the last bit
SKIPS = ("no_time", "pain", "forgot", "unwell", "no_equipment")


@dataclass(frozen=True, slots=True)
class PhaseRun:
    """One unbroken run of days in a phase. What follows `last` covers the days that count (rules.adherence.counts).

    `days` count, `silent` of them without a log; `asked` and `done` are sessions, `credit` credited sessions, `seconds`
    what was asked for at least. `kept` is how many days the client kept going from this run's first day on, through later
    runs too, until the first long silence (`lapsed`) or until now (rules.survival.followed); 0 before the first whole day.
    """

    number: int                   # 0 is the first
    kind: str
    first: date
    last: date
    days: int
    silent: int
    asked: int
    done: int
    credit: float
    seconds: int
    kept: int
    lapsed: bool


@dataclass(slots=True)
class ItemRun:
    """One exercise at one level, from `first` until the day another level came in (None: as far as is planned).

    `sessions` are the logged ones that asked for it in that run; `done` of them with anything of it done; `credit` the sum
    of its credits. `skipped_…` say why it was left out, `left` and `right` are seconds where each side is asked for.
    """

    number: int                   # of this item's runs, 0 the first
    item_key: UUID
    exercise: str
    level: int
    first: date
    until: date | None
    sessions: int = 0
    done: int = 0
    credit: float = 0.0
    left: int = 0
    right: int = 0
    skipped: dict[str, int] = field(default_factory=lambda: dict.fromkeys(SKIPS, 0))


def phase_runs(folded: Folded, today: date, silence: int) -> list[PhaseRun]:
    """The phases in the order they were gone through; days before the first revision have none.

    `silence`: days without an answer that count as a lapse.
    """
    days = [(day, counted) for day, counted in zip(folded.days, folded.counted, strict=True) if day.phase_kind]
    found = []
    runs = groupby(days, key=lambda pair: (pair[0].phase_number, pair[0].phase_kind))
    for number, ((_, kind), run) in enumerate(runs):
        held = list(run)
        count = [(day, counted) for day, counted in held if adherence.counts(counted, today)]
        on = followed((counted for day, counted in days if day.day >= held[0][0].day), today, silence)
        found.append(PhaseRun(
            number, kind, held[0][0].day, held[-1][0].day, len(count), sum(not counted.logged for _, counted in count),
            sum(counted.asked for _, counted in count),
            sum(min(counted.sessions, counted.asked) for _, counted in count),
            sum(counted.credit * counted.asked for _, counted in count),
            sum(day.prescribed_minimum for day, _ in count), on.day if on else 0, bool(on and on.dropped_out),
        ))
    return found


def item_runs(course: Course) -> list[ItemRun]:
    """Every exercise's runs, exercises in the order in which they came in."""
    return runs_with(course, newest_edits(course.sessions))


def runs_with(course: Course, sessions: Sequence[LoggedSession]) -> list[ItemRun]:
    """The runs that the plans of a course make, with these sessions counted and no others."""
    runs: list[ItemRun] = []
    open_runs: dict[UUID, ItemRun] = {}
    place: dict[tuple[int, UUID], ItemRun] = {}
    for number, first, items in _in_force(course.plans):
        for key in open_runs.keys() - {item.key for item in items}:
            open_runs.pop(key).until = first
        for item in items:
            run = open_runs.get(item.key)
            if run is None or (run.exercise, run.level) != (item.exercise, item.level):
                if run:
                    run.until = first
                count = sum(other.item_key == item.key for other in runs)
                run = open_runs[item.key] = ItemRun(count, item.key, item.exercise, item.level, first, None)
                runs.append(run)
            place[number, item.key] = run
    asked = {
        plan.number: [
            (each, place[plan.number, each.item.key])
            for each in adherence.weighed(plan.plan) if (plan.number, each.item.key) in place
        ]
        for plan in course.plans
    }
    for session in sessions:
        _count(asked.get(session.shown, ()), session)
    for run in runs:
        run.credit /= MICRO
    return runs


def _in_force(plans: Sequence[EffectivePlan]) -> list[tuple[int, date, tuple[ItemPlan, ...]]]:
    """(number, first day, items) of the revisions that are in force for a day at least, in order."""
    found = []
    for plan in sorted(plans, key=lambda each: each.number):
        over = min((each.effective_from for each in plans if each.number > plan.number), default=None)
        if over is None or over > plan.effective_from:
            found.append((plan.number, plan.effective_from, plan.plan.items))
    return found


def _count(asked: Sequence[tuple[adherence.Weighed, ItemRun]], session: LoggedSession) -> None:
    """Add one session to the runs of the items that it was asked for."""
    entries = {entry.item_key: entry for entry in session.items}
    for each, run in asked:
        item = each.item
        entry = entries.get(item.key)
        run.sessions += 1
        if entry is None:
            continue
        run.credit += round(adherence.weighed_credit(each, entry) * MICRO)
        run.done += bool(entry.done_left or entry.done_right)
        if entry.skipped in run.skipped:
            run.skipped[entry.skipped] += 1
        if item.side == "each":
            run.left, run.right = run.left + entry.done_left, run.right + entry.done_right
