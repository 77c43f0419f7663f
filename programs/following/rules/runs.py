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
from programs.following.rules.earlier import EarlierRun, KnownRun
from programs.following.rules.fold import Folded
from programs.following.rules.survival import Followed, followed
from programs.prescribing.rules.plan import ItemPlan

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

    @property
    def known(self) -> KnownRun:
        """As it is read back from where it is stored."""
        sums = adherence.Tally.of(self.days, self.silent, self.asked, self.done, self.credit, self.seconds)
        return KnownRun(self.kind, self.first, self.last, sums, self.kept, self.lapsed)


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
    earlier = folded.earlier
    found: list[PhaseRun] = []
    for run in earlier.runs[:-1] if earlier.goes_on else earlier.runs:
        found.append(_run(len(found), run.kind, run.first, run.last, run.sums, _kept(run, folded, today, silence)))
    runs = groupby(days, key=lambda pair: (pair[0].phase_number, pair[0].phase_kind))
    for place, ((_, kind), pairs) in enumerate(runs):
        held = list(pairs)
        sums = adherence.tally((counted for _, counted in held), today)
        first = held[0][0].day
        if place == 0 and earlier.goes_on:
            begun = earlier.runs[-1]
            first, sums, on = begun.first, begun.sums + sums, _kept(begun, folded, today, silence)
        else:
            on = followed((counted for day, counted in days if day.day >= first), today, silence)
        found.append(_run(len(found), kind, first, held[-1][0].day, sums, on))
    return found


def _kept(run: EarlierRun, folded: Folded, today: date, silence: int) -> Followed | None:
    """How far the client kept going from the first day of a run that began before the window."""
    return Followed(run.kept, True) if run.over else followed(folded.counted, today, silence, run.lived)


def _run(number: int, kind: str, first: date, last: date, sums: adherence.Tally, on: Followed | None) -> PhaseRun:
    return PhaseRun(
        number, kind, first, last, sums.days, sums.silent, sums.asked, sums.done, sums.credit, sums.least,
        on.day if on else 0, bool(on and on.dropped_out),
    )


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
    answered = {session.shown for session in sessions}
    asked = {
        plan.number: [
            (each, place[plan.number, each.item.key])
            for each in adherence.weighed(plan.plan) if (plan.number, each.item.key) in place
        ]
        for plan in course.plans if plan.number in answered
    }
    for session in sessions:
        _count(asked.get(session.shown, ()), session)
    for run in runs:
        run.credit /= adherence.MICRO
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
        run.credit += round(adherence.weighed_credit(each, entry) * adherence.MICRO)
        run.done += bool(entry.done_left or entry.done_right)
        if entry.skipped in run.skipped:
            run.skipped[entry.skipped] += 1
        if item.side == "each":
            run.left, run.right = run.left + entry.done_left, run.right + entry.done_right
