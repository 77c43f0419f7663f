"""A program's days and state, worked out anew from its plans, pauses, logs and morning answers.

Nothing here depends on the order in which those arrived: of one log the highest edit counts, of one morning the newest.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from programs.following.rules import adherence, attention, intervals, trend
from programs.following.rules.adherence import BandName, Bands, Counted, DayStateName, Tally
from programs.following.rules.course import Course, LoggedSession, newest_edits
from programs.following.rules.earlier import Earlier
from programs.prescribing.rules.plan import DayPlan, day_plan

Shown = Mapping[int, Sequence[adherence.Weighed]]   # the items of each revision, by its number
WHOLE = Earlier()     # nothing lies before the days
PAIN_DAYS = 28        # how far back the pain trend looks
PAIN_POINTS = 4       # a slope through fewer days says nothing


@dataclass(frozen=True, slots=True)
class FoldedDay:
    """One day: the columns of a day record."""

    day: date
    state: DayStateName
    phase_number: int | None
    phase_kind: str
    prescribed_sessions: int
    prescribed_minimum: int
    prescribed_full: int
    logged: bool = False
    sessions_done: int = 0
    done_seconds: int = 0
    credit: float = 0.0
    pain: int | None = None
    pain_next_morning: int | None = None
    effort: int | None = None

    @property
    def counted(self) -> Counted:
        return Counted(
            self.day, self.state, self.prescribed_sessions, self.credit, self.sessions_done, self.logged,
            self.done_seconds, self.prescribed_full, self.prescribed_minimum,
        )


@dataclass(frozen=True, slots=True)
class FoldedState:
    """The columns of a program's state on `as_of`."""

    as_of: date
    phase_number: int | None
    phase_kind: str
    band: BandName
    adherence_7: float | None
    adherence_phase: float | None
    adherence_all: float | None
    sessions_done: int
    sessions_prescribed: int
    interval_low: float | None
    interval_high: float | None
    silent_days: int
    last_logged: date | None
    overdose: float | None
    pain_last: int | None
    pain_slope: float | None
    attention: int
    reasons: tuple[dict[str, int | float | str], ...]


@dataclass(frozen=True, slots=True)
class Folded:
    """Days and state, and what both are worked out from; `counted` are the days as the windows of adherence see them.

    With something `earlier`, days are those of a window, and the state is of all days.
    """

    days: tuple[FoldedDay, ...]
    state: FoldedState
    silent_since: date | None
    counted: tuple[Counted, ...]
    pains: tuple[tuple[date, int], ...]     # worst pain of each day that has an answer, oldest first
    slope: trend.Slope | None               # of the pain, points a week
    count: int                              # days that count (rules.adherence.counts)
    earlier: Earlier = WHOLE


def fold(course: Course, today: date, bands: Bands) -> Folded:
    """Every day from the first through `today` (or the end), and the state on that last day.

    A program that has not begun has no days and is `new`.
    """
    by_day = in_days(newest_edits(course.sessions))
    days = _days(course, days_through(course, today), by_day, {}, ())
    return _folded(course, days, tuple(day.counted for day in days), today, bands)


def fold_window(
    course: Course, window: date, earlier: Earlier, sessions: Iterable[LoggedSession], held: Mapping[date, FoldedDay],
    touched: Collection[date], today: date, bands: Bands,
) -> Folded:
    """`fold` from the day `window` on, over what was `earlier`: days that are `held` are taken as they are, unless `touched`.

    A day follows from the plans, the pauses and its own sessions and morning answers alone. So the state equals that of
    `fold` when the held days and what was earlier were folded with the same plans, pauses and rules, and `sessions`, newest
    edits, and the course's morning answers hold those of every other day.
    """
    span = [day for day in days_through(course, today) if day >= window]
    days = _days(course, span, in_days(sessions), held, touched)
    return _folded(course, days, tuple(day.counted for day in days), today, bands, earlier)


def in_days(sessions: Iterable[LoggedSession]) -> dict[date, list[LoggedSession]]:
    """Sessions by their day, in the order given."""
    found: dict[date, list[LoggedSession]] = {}
    for session in sessions:
        found.setdefault(session.day, []).append(session)
    return found


def _days(
    course: Course, span: Sequence[date], by_day: dict[date, list[LoggedSession]], held: Mapping[date, FoldedDay],
    touched: Collection[date],
) -> tuple[FoldedDay, ...]:
    mornings = {row.day: row.pain for row in sorted(course.mornings, key=lambda row: row.order)}
    anew = {day for day in span if day not in held or day in touched}
    shown = _shown(course, (session for day in anew for session in by_day.get(day, ())))
    return tuple(_day(course, day, by_day, mornings, shown) if day in anew else held[day] for day in span)


def _shown(course: Course, sessions: Iterable[LoggedSession]) -> Shown:
    """The plans that these sessions answer, weighed."""
    answered = {session.shown for session in sessions}
    return {plan.number: adherence.weighed(plan.plan) for plan in course.plans if plan.number in answered}


def days_through(course: Course, today: date) -> list[date]:
    """The days of a course from its first through `today` or its end."""
    last = min(today, course.ended) if course.ended else today
    return [course.starts + timedelta(days=index) for index in range((last - course.starts).days + 1)]


def fold_one_more(
    course: Course, before: Folded, index: int, today: date, sessions: Sequence[LoggedSession], bands: Bands
) -> Folded:
    """`fold` through `today` from one that went further: its first `index` days are kept, today is worked out anew.

    `sessions` are the newest edits of today.
    """
    shown = _shown(course, sessions)
    last = _day(course, today, {today: list(sessions)}, {}, shown)
    return _folded(course, (*before.days[:index], last), (*before.counted[:index], last.counted), today, bands)


def _folded(
    course: Course, days: tuple[FoldedDay, ...], counted: tuple[Counted, ...], today: date, bands: Bands,
    earlier: Earlier = WHOLE,
) -> Folded:
    silent_days, silent_since = adherence.silence(counted, today)
    pains = tuple(pain_points(days))
    slope = pain_trend(pains, today)
    total = adherence.tally(counted, today) + earlier.total
    phase = len(current_phase(days))
    sums = adherence.tally(counted[len(counted) - phase:], today)
    if phase == len(days):
        sums += earlier.phase
    pain = pains[-1][1] if pains else earlier.pain
    state = _state(course, days, counted, Sums(total, sums), pain, slope, today, silent_days, bands)
    return Folded(days, state, silent_since, counted, pains, slope, total.days, earlier)


def _day(
    course: Course, day: date, by_day: dict[date, list[LoggedSession]], mornings: dict[date, int], shown: Shown
) -> FoldedDay:
    effective = course.plan_on(day)
    asked: DayPlan | None = day_plan(effective.plan, day) if effective else None
    paused = any(pause.covers(day) for pause in course.pauses)
    state: DayStateName = "paused" if paused else "prescribed" if asked and asked.sessions else "rest"
    due = asked if asked and state == "prescribed" else None
    sessions = by_day.get(day, [])
    least = due.sessions.minimum if due and due.sessions else 0
    credits, seconds, done = _done(shown, sessions)
    return FoldedDay(
        day=day,
        state=state,
        phase_number=asked.phase_number if asked else None,
        phase_kind=asked.phase.kind if asked else "",
        prescribed_sessions=least,
        prescribed_minimum=due.minimum_seconds if due else 0,
        prescribed_full=due.full_seconds if due else 0,
        logged=bool(sessions),
        sessions_done=done,
        done_seconds=seconds,
        credit=adherence.day_credit(credits, least),
        pain=_worst(session.pain_during for session in sessions),
        pain_next_morning=mornings.get(day),
        effort=_worst(session.effort for session in sessions),
    )


def _done(shown: Shown, sessions: Sequence[LoggedSession]) -> tuple[list[float], int, int]:
    """Credits, seconds in all and the number of sessions with anything done; each is held against what was shown."""
    credits: list[float] = []
    seconds = done = 0
    for session in sessions:
        items = shown.get(session.shown)
        if items is None:
            continue
        credit, took = adherence.weighed_session(items, {item.item_key: item for item in session.items})
        credits.append(credit)
        seconds += took
        done += took > 0
    return credits, seconds, done


def _worst(values: Iterable[int | None]) -> int | None:
    return max((value for value in values if value is not None), default=None)


@dataclass(frozen=True, slots=True)
class Sums:
    """The days that count: of the whole program, and of the phase of today."""

    total: Tally
    phase: Tally


def _state(
    course: Course, days: Sequence[FoldedDay], counted: Sequence[Counted], sums: Sums, pain: int | None,
    slope: trend.Slope | None, today: date, silent_days: int, bands: Bands,
) -> FoldedState:
    week = [day for day in counted[-7:] if day.day > today - timedelta(days=7)]
    done, asked = sums.total.done, sums.total.asked
    limits = intervals.wilson(done, asked)
    last = days[-1] if days else None
    shares = {"7": adherence.share(week, today), "phase": sums.phase.share, "all": sums.total.share}
    recent = next((shares[name] for name in ("7", "phase", "all") if shares[name] is not None), None)
    word = adherence.band(
        recent=recent, silent_days=silent_days, kick_off=last is not None and last.phase_kind == "kick_off",
        paused=last is not None and last.state == "paused", counted_days=sums.total.days, bands=bands,
    )
    ratio = adherence.overdose(week, today)
    points, reasons = attention.order(
        band=word, share=recent, silent_days=silent_days, pain=pain,
        slope=slope.value if slope and slope.low > 0 else None, overdose=ratio, open_alerts=course.open_alerts,
        bands=bands,
    )
    return FoldedState(
        as_of=today, phase_number=last.phase_number if last else None, phase_kind=last.phase_kind if last else "",
        band=word, adherence_7=shares["7"], adherence_phase=shares["phase"], adherence_all=shares["all"],
        sessions_done=done, sessions_prescribed=asked,
        interval_low=limits[0] if limits else None, interval_high=limits[1] if limits else None,
        silent_days=silent_days, last_logged=max((day.day for day in days if day.logged), default=None),
        overdose=ratio, pain_last=pain, pain_slope=slope.value if slope else None,
        attention=points, reasons=reasons,
    )


def current_phase(days: Sequence[FoldedDay]) -> list[FoldedDay]:
    """The newest unbroken run of days in the same phase."""
    run: list[FoldedDay] = []
    for day in reversed(days):
        if run and (day.phase_number, day.phase_kind) != (run[-1].phase_number, run[-1].phase_kind):
            break
        run.append(day)
    return run[::-1]


def pain_points(days: Sequence[FoldedDay]) -> list[tuple[date, int]]:
    """Worst pain of each day that has an answer, oldest first."""
    return [(day.day, day.pain) for day in days if day.pain is not None]


def pain_trend(pains: Sequence[tuple[date, int]], today: date) -> trend.Slope | None:
    """Points a week over the last PAIN_DAYS; None with fewer than PAIN_POINTS answers."""
    points = [((day - today).days / 7, float(pain)) for day, pain in pains if (today - day).days < PAIN_DAYS]
    return trend.theil_sen(points) if len(points) >= PAIN_POINTS else None
