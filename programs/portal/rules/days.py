"""Days, weeks and phases of a plan, as a client reads them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from programs.following.rules.adherence import Bands
from programs.library.rules.dose import Span
from programs.portal.vocab import Stand
from programs.prescribing.rules.plan import DayPlan, PhaseName, Plan, TimeName, WeekdayName, day_plan, phase_starts

WeekWord = Literal["paused", "new", "silent", "on_track", "partly", "low"]
Waits = Literal["", "date", "decision"]
LOOK_AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class PhaseLine:
    """One phase in dates. `first` None: waits for the clinician; `last` None: open. Minutes are a day with sessions."""

    number: int
    kind: PhaseName
    first: date | None
    last: date | None
    sessions: Span
    days_per_week: int
    minutes: tuple[int, int]
    waits: Waits                  # what ends it: nothing, a date, or the clinician's decision
    now: bool
    weekdays: tuple[WeekdayName, ...] = ()   # the fixed days of the week; empty: spread evenly
    times: tuple[TimeName, ...] = ()         # the times of day that are named


def minutes(seconds: int) -> int:
    """Whole minutes, rounded up: the ask is never longer than said."""
    return -(-seconds // 60)


def stand_of(*, open_now: bool, starts: date, paused: bool, asked: DayPlan | None, today: date) -> Stand:
    """Where a client stands with a program that was given; `asked` is None before its first day."""
    if not open_now:
        return Stand.ENDED
    if paused:
        return Stand.PAUSED
    if today < starts or asked is None:
        return Stand.NOT_STARTED
    return Stand.REST if asked.sessions is None else Stand.ASKED


def next_asked(plan: Plan, after: date) -> date | None:
    """The next day with a session, looking two weeks ahead."""
    for offset in range(1, LOOK_AHEAD_DAYS + 1):
        day = max(after + timedelta(days=offset), plan.anchor)
        if day_plan(plan, day).sessions is not None:
            return day
    return None


def phase_lines(plan: Plan, today: date) -> list[PhaseLine]:
    """Every phase with its dates where they are known; the one of today is marked."""
    known = dict(phase_starts(plan))
    now = day_plan(plan, today).phase_number if today >= plan.anchor else 0
    per_session = (plan.session_seconds("minimum"), plan.session_seconds("full"))
    lines = []
    for number, phase in enumerate(plan.phases, start=1):
        first = known.get(number)
        by_date = phase.days is not None and phase.advance == "by_date" and number < len(plan.phases)
        waits: Waits = "date" if by_date else "decision" if phase.advance == "by_decision" else ""
        lines.append(
            PhaseLine(
                number, phase.kind, first,
                first + timedelta(days=phase.days - 1) if first and by_date and phase.days else None,
                phase.sessions, phase.days_per_week,
                (minutes(phase.sessions.minimum * per_session[0]), minutes(phase.sessions.full * per_session[1])),
                waits, number == now, phase.weekdays, phase.times,
            )
        )
    return lines


def monday_of(day: date) -> date:
    """The Monday of its week."""
    return day - timedelta(days=day.weekday())


def weeks_back(first: date, today: date) -> list[date]:
    """Mondays from the week of `today` back to the week of `first`; empty when that is still to come."""
    monday, oldest = monday_of(today), monday_of(first)
    return [monday - timedelta(weeks=back) for back in range((monday - oldest).days // 7 + 1)] if today >= first else []


def ribbon_bounds(starts: date, plan: Plan | None, today: date) -> tuple[date, date]:
    """First and last day of the picture: the last four weeks and the eight to come, from the program's start.

    It ends two weeks into the last phase where that is sooner: from there on every week is the same.
    """
    first = max(starts, today - timedelta(days=28))
    last = first + timedelta(days=83)
    known = phase_starts(plan)[-1][1] if plan else starts
    return first, max(first + timedelta(days=27), today + timedelta(days=13), min(last, known + timedelta(days=13)))


def week_word(asked: int, done: int, bands: Bands, *, paused: bool) -> WeekWord:
    """One word for a week: sessions done out of the least asked, in the bands of adherence."""
    if not asked:
        return "paused" if paused else "new"
    if not done:
        return "silent"
    if done >= bands.on_track * asked:
        return "on_track"
    return "partly" if done >= bands.partly * asked else "low"
