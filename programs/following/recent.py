"""The end of a program's history, which is all that one more log or morning answer asks for: what it costs does not grow
with the years.

Days before a window are taken as they were stored, summed up in the rows of their phases; the window reaches back as far as
the rules look and as what was written. Whoever calls this falls back on the whole history wherever the end is not enough.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from programs.following import ends
from programs.following.models import SessionLog
from programs.following.ribbons import BEFORE
from programs.following.rules import change
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, newest_edits
from programs.following.rules.earlier import Earlier, KnownRun, earlier_of
from programs.following.rules.fold import PAIN_DAYS, WHOLE, Folded, FoldedDay, current_phase, fold_window, in_days
from programs.following.rules.program_rules import MEANS_NAMED
from programs.following.rules.proposal import MOST_LOGS, Proposal
from programs.following.rules.ruleset import RuleSet
from programs.prescribing.models import Program
from programs.prescribing.rules.plan import Plan, phase_on
from programs.prescribing.versions import Version

ROWS, WIDE = 18, 4             # reports of sessions that are read at least, if there are as many; times WIDE the second time
WEEK = timedelta(days=7)       # of sessions that are read at least
LISTED = frozenset({"taper", "extend_kick_off", "reassess"})   # their evidence names sessions of longer ago


@dataclass(frozen=True, slots=True)
class Written:
    """What was just stored: its edits by log id, the program's plans as they were read for it, and every day that the logs
    or answers are on or were on before."""

    edits: Mapping[UUID, frozenset[int]]
    plans: Sequence[tuple[Version, Plan]]
    days: frozenset[date]


@dataclass(frozen=True, slots=True)
class Recent:
    """`course` holds the sessions of `since` and later, the newest edits of each; `whole` when there are none before.

    `window` is the first of the days that are worked with and `earlier` what lies before it. `runs` are those of the phases
    and `held` the window's days, as stored. `sessions` are those of the course and of every touched day. `before` and `after`
    are the sessions that the written logs stood for and stand for.
    """

    course: Course
    since: date
    whole: bool
    window: date
    earlier: Earlier
    runs: Sequence[KnownRun]
    held: Mapping[date, FoldedDay]
    sessions: list[LoggedSession]
    touched: frozenset[date]
    before: list[LoggedSession]
    after: list[LoggedSession]

    def fold(self, today: date, rules: RuleSet) -> Folded | None:
        """Days and state of today; None when the window no longer begins with an answer, or its only pain was taken back."""
        folded = fold_window(
            self.course, self.window, self.earlier, self.sessions, self.held, self.touched, today, rules.bands
        )
        if self.earlier is not WHOLE:
            pain_gone = not folded.pains and any(day.pain is not None for day in self.held.values())
            if pain_gone or not folded.days[0].logged:
                return None
        return folded


def lengths() -> Iterator[int]:
    """How many reports to read: few, and more where those are not enough."""
    yield from (ROWS, ROWS * WIDE)


def recent_of(program: Program, written: Written, today: date, rules: RuleSet, rows: int) -> Recent | None:
    """The end of a program's history around what was just written; None when what is stored of the rest cannot be used."""
    since = _since(program, today, rows)
    sessions = ends.sessions_since(
        program, {version.pk: version.number for version, _ in written.plans}, since,
        [day for day in written.days if day < since],
    )
    newest = newest_edits(sessions)
    course = Course(
        starts=program.starts, ended=program.ended,
        plans=tuple(EffectivePlan(version.number, version.effective_from, plan) for version, plan in written.plans),
        pauses=ends.pauses_of(program),
        sessions=tuple(session for session in newest if session.day >= since),
        mornings=ends.mornings_since(program, min((since, *written.days))),
        open_alerts=ends.open_alerts(program),
    )
    found = _window(program, course, min((_reach(course, today, rules), since, *written.days)), rules)
    if found is None:
        return None
    window, held, earlier, runs = found
    read = in_days(newest).keys() | written.days
    if any(window + timedelta(days=back) not in held.keys() | read for back in range((since - window).days)):
        return None
    ours = [session for session in sessions if session.log_id in written.edits]
    return Recent(
        course, since, since <= program.starts, window, earlier, runs, held, newest, written.days,
        newest_edits(session for session in ours if session.edit not in written.edits[session.log_id]), newest_edits(ours),
    )


def _since(program: Program, today: date, rows: int) -> date:
    """The first day whose sessions are read."""
    reached = ends.newest_day(program, rows)
    return max(program.starts, min(today - WEEK, reached)) if reached else program.starts


def _reach(course: Course, today: date, rules: RuleSet) -> date:
    """The first day that the state, the rules and the ribbon look at."""
    weeks = max(MEANS_NAMED, rules.whole("pain.rising_weeks") + 1)
    reach = today - timedelta(days=max(BEFORE, PAIN_DAYS, 7 * weeks))
    last = min(today, course.ended) if course.ended else today
    plan = course.plan_on(last)
    if plan is not None and plan.plan.anchor <= last:
        number, index = phase_on(plan.plan, last)
        if plan.plan.phases[number].kind == "kick_off":   # its days are counted from its first one on
            reach = min(reach, last - timedelta(days=index))
    return reach


def _window(
    program: Program, course: Course, reach: date, rules: RuleSet
) -> tuple[date, Mapping[date, FoldedDay], Earlier, Sequence[KnownRun]] | None:
    """The window's first day, its days as stored, what lies before it, and the stored runs."""
    known = ends.runs_of(program)
    if known is None:
        return None
    runs, (as_of, version, pain) = known
    window = ends.answered_by(program, reach) if reach > program.starts else None
    held = ends.days_since(program, window or program.starts)
    if window is None or window == program.starts:
        return program.starts, held, WHOLE, runs
    if version != rules.version or as_of < window:
        return None
    counted = [day.counted for day in held.values()]
    return window, held, earlier_of(runs, window, counted, as_of, course.pauses, pain), runs


def enough(program: Program, recent: Recent, folded: Folded, proposals: Iterable[Proposal]) -> bool:
    """Whether the rules, which look at MOST_LOGS sessions at most of whole or item, saw all that they would have seen."""
    if recent.whole:
        return True
    sessions = recent.course.sessions
    if len(sessions) < MOST_LOGS:
        return False
    earlier = SessionLog.objects.filter(program=program, day__lt=recent.since)
    for proposal in proposals:
        if proposal.kind in LISTED and len(proposal.evidence.logs) < MOST_LOGS:
            could = earlier.filter(pain_during__isnull=False) if proposal.kind == "reassess" else earlier.filter(
                day__gte=_phase_began(folded)
            )
            if could.exists():
                return False
    newest = recent.course.newest
    short: set[int] = set()
    for item in newest.plan.items if newest else ():
        same = {
            plan.number for plan in recent.course.plans
            if (held := change.item_of(plan.plan, item.key)) and (held.level, held.dose) == (item.level, item.dose)
        }
        if sum(session.shown in same for session in sessions) < MOST_LOGS:
            short |= same
    return not short or not earlier.filter(revision__number__in=short).exists()


def _phase_began(folded: Folded) -> date:
    days = current_phase(folded.days)
    return folded.earlier.runs[-1].first if len(days) == len(folded.days) and folded.earlier.goes_on else days[0].day
