"""What the rules would have proposed, day by day, over answers that are already there.

A day is looked at as it stood before that day's decisions: revisions written that day count from the next one, a pause from
the day after it began, and the morning after a session is not known yet. Of an edited log the last edit is what counts.
Each day before it is folded once, whatever the number of rule sets.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from uuid import UUID

from programs.following.rules import item_rules, symptoms
from programs.following.rules.adherence import Bands
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, LoggedSession, newest_edits
from programs.following.rules.fold import Folded, fold, fold_one_more
from programs.following.rules.item_rules import ItemSession
from programs.following.rules.proposal import Proposal
from programs.following.rules.ruleset import RuleSet
from programs.following.rules.suggest import Heard, asks, decide
from programs.prescribing.rules.plan import ItemPlan

Key = tuple[str, UUID | None]


@dataclass(frozen=True, slots=True)
class Past:
    """A program's course as it is known now, and when what is in it came: `written` by revision number."""

    course: Course
    written: Mapping[int, date] = field(default_factory=dict)
    alerts: tuple[tuple[date, date | None], ...] = ()      # red-flag answers: opened, closed
    ladders: Mapping[str, Sequence[Rung]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Spell:
    """A proposal that stood from `first` through `last` without a day's break. `rule` is why it first came up."""

    kind: str
    item_key: UUID | None
    rule: str
    first: date
    last: date


def seen_on(past: Past, day: date) -> Course:
    """The course as the rules would have read it on `day`, before anything was decided that day."""
    course = past.course
    return replace(
        course,
        ended=None,
        plans=tuple(
            plan for plan in course.plans
            if plan.effective_from <= day or past.written.get(plan.number, plan.effective_from) < day
        ),
        pauses=tuple(pause for pause in course.pauses if pause.first < day),
        sessions=tuple(session for session in newest_edits(course.sessions) if session.day <= day),
        mornings=tuple(morning for morning in course.mornings if morning.day < day),
        open_alerts=_open(past, day),
    )


def _open(past: Past, day: date) -> int:
    return sum(opened <= day and (closed is None or closed >= day) for opened, closed in past.alerts)


def replay(past: Past, first: date, last: date, rule_sets: Sequence[RuleSet]) -> list[tuple[Spell, ...]]:
    """The spells of every proposal but `maintain` from `first` through `last`, for each rule set, oldest first."""
    course = replace(past.course, sessions=tuple(newest_edits(past.course.sessions)))
    end = min(last, course.ended) if course.ended else last
    whole = fold(course, end, rule_sets[0].bands)
    sessions: dict[date, list[LoggedSession]] = {}
    for session in course.sessions:
        sessions.setdefault(session.day, []).append(session)
    readers = [_Reader(course, rules) for rules in rule_sets]
    spells = [_Spells() for _ in rule_sets]
    for index, folded_day in enumerate(whole.days):
        day = folded_day.day
        if day < first:
            continue
        seen = _seen_without_answers(past, course, day)
        made: dict[Bands, Folded] = {}
        for reader, held in zip(readers, spells, strict=True):
            bands = reader.rules.bands
            if bands not in made:
                made[bands] = fold_one_more(seen, whole, index, day, sessions.get(day, ()), bands)
            held.add(day, reader.proposals(seen, made[bands], day, past.ladders))
    return [held.all() for held in spells]


def _seen_without_answers(past: Past, course: Course, day: date) -> Course:
    """`seen_on` for the plans, pauses and alerts; the reader keeps the answers."""
    return seen_on(replace(past, course=replace(course, sessions=(), mornings=())), day)


def _day_of(step: ItemSession) -> date:
    return step.session.day


class _Spells:
    def __init__(self) -> None:
        self._open: dict[Key, Spell] = {}
        self._over: list[Spell] = []

    def add(self, day: date, proposals: Iterable[Proposal]) -> None:
        standing: dict[Key, Spell] = {}
        for proposal in proposals:
            key = (proposal.kind, proposal.item_key)
            if proposal.kind != "maintain":
                held = self._open.pop(key, None)
                standing[key] = replace(held, last=day) if held else Spell(*key, proposal.evidence.rule, day, day)
        self._over += self._open.values()
        self._open = standing

    def all(self) -> tuple[Spell, ...]:
        spells = [*self._over, *self._open.values()]
        return tuple(sorted(spells, key=lambda spell: (spell.first, spell.kind, str(spell.item_key))))


class _Reader:
    """The answers of a course as one rule set reads them, each judged once: with the morning after and without it."""

    def __init__(self, course: Course, rules: RuleSet) -> None:
        self.rules, self._edges = rules, rules.edges
        self._course = course
        self._mornings = {row.day: row.pain for row in sorted(course.mornings, key=lambda row: row.order)}
        self._days = [session.day for session in course.sessions]
        self._read = item_rules.read(course.sessions, self._mornings, self._edges)
        self._verdicts = [each.verdict for each in self._read]
        self._steps: dict[str, list[ItemSession]] = {}

    def _verdict(self, session: LoggedSession, morning: int | None) -> symptoms.Verdict:
        return symptoms.verdict(session.pain_during, session.pain_before, morning, self._edges)

    def proposals(
        self, seen: Course, folded: Folded, day: date, ladders: Mapping[str, Sequence[Rung]]
    ) -> tuple[Proposal, ...]:
        """What this rule set proposes on `day`."""
        if not asks(seen, folded, day) or seen.newest is None:
            return ()
        count = bisect_right(self._days, day)
        yesterday = bisect_left(self._days, day)
        sessions = self._course.sessions[:count]
        verdicts = (
            *self._verdicts[:yesterday], *(self._verdict(session, None) for session in sessions[yesterday:])
        )
        past = {item.key: self._past(item, day) for item in seen.newest.plan.items}
        return decide(seen, folded, day, self.rules, ladders, Heard(sessions, verdicts, past))

    def _past(self, item: ItemPlan, day: date) -> list[ItemSession]:
        """The item's sessions through `day`; the morning after the newest ones is still to come."""
        known = f"{item.key} {item.level} {item.dose}"
        if known not in self._steps:
            self._steps[known] = item_rules.history(self._course, self._read, item)
        steps = self._steps[known]
        until = bisect_left(steps, day, key=_day_of)
        count = bisect_right(steps, day, key=_day_of)
        return [
            *steps[:until],
            *(replace(step, verdict=self._verdict(step.session, None), rise=None) for step in steps[until:count]),
        ]
