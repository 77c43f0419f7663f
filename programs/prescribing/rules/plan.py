"""A plan: items and phases as plain values, and what they ask for on a given day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Literal, get_args
from uuid import UUID

from programs.library.rules.dose import Dose, End, Span, work_seconds

PhaseName = Literal["kick_off", "taper", "maintenance"]
AdvanceName = Literal["by_date", "by_decision"]
SideName = Literal["both", "each", "alternating", "left", "right"]
WeekdayName = Literal["MO", "TU", "WE", "TH", "FR", "SA", "SU"]   # RFC 5545
TimeName = Literal["morning", "midday", "evening"]
LeewayName = Literal["none", "easier", "either"]
WEEKDAYS: tuple[WeekdayName, ...] = get_args(WeekdayName)
TIMES: tuple[TimeName, ...] = get_args(TimeName)
# what an exercise can be given as, by how it is usually given: one of both sides together has no left and right
SIDES_OF: dict[str, tuple[SideName, ...]] = {
    "both": ("both",), "each": get_args(SideName), "alternating": get_args(SideName), "left": ("left",), "right": ("right",),
}
PHASE_ORDER: tuple[PhaseName, ...] = ("kick_off", "taper", "maintenance")
MOST_PHASES = 24
MOST_ITEMS = 40
MOST_NOTE = 200           # characters
MOST_DAY_MINUTES = 240    # asked for in one day, all sessions in full: a typing slip, not a program
CHANGE_OF_SIDE_SECONDS = 5   # turning over between sides (common practice, no source)


@dataclass(frozen=True, slots=True)
class ItemPlan:
    """One exercise with its dose. `key` stays the same through revisions."""

    key: UUID
    exercise: str                 # slug
    level: int                    # number, 1 the easiest
    dose: Dose
    side: SideName = "both"
    rounds: Span = field(default_factory=lambda: Span(1, 1))
    setup_seconds: int = 20
    priority: int = 1
    note: str = ""
    leeway: LeewayName = "none"   # how far the client may choose another level for a day: one step at most

    @property
    def neighbours(self) -> tuple[int, ...]:
        """The numbers of the levels that the client may take instead, the easier first; the library may be without one."""
        steps = {"none": (), "easier": (-1,), "either": (-1, 1)}[self.leeway]
        return tuple(self.level + step for step in steps if self.level + step > 0)

    @property
    def sides(self) -> int:
        """How many times the dose is worked through in a round: twice for `each`, once otherwise."""
        return 2 if self.side == "each" else 1

    def work(self, end: End) -> int:
        """Seconds of work prescribed in one session, all rounds and sides, without set-up."""
        return self.rounds.at(end) * self.sides * work_seconds(self.dose, end)

    def seconds(self, end: End) -> int:
        """Seconds of one session that this item takes, set-up and change of side included."""
        return self.work(end) + self.setup_seconds + self.rounds.at(end) * (self.sides - 1) * CHANGE_OF_SIDE_SECONDS


@dataclass(frozen=True, slots=True)
class PhasePlan:
    """How often, for how long. `days` None is open-ended; `by_decision` stays until a new revision moves on.

    `weekdays` are the days of the week that have a session, in their order; empty spreads `days_per_week` evenly from the
    phase's first day. `times` name the times of day, one for each session in full; empty leaves them open.
    """

    kind: PhaseName
    days: int | None
    sessions: Span
    days_per_week: int = 7
    advance: AdvanceName = "by_date"
    weekdays: tuple[WeekdayName, ...] = ()
    times: tuple[TimeName, ...] = ()

    def active_on(self, index: int, day: date | None = None) -> bool:
        """Whether day `index` (0 is the phase's first) has a session: days spread as evenly as integers allow.

        With `weekdays` it is the calendar that says so, and `day` must be given.
        """
        if self.weekdays:
            if day is None:
                raise ValueError("a phase on days of the week needs the day, not only its place in the phase")
            return WEEKDAYS[day.weekday()] in self.weekdays
        k = self.days_per_week
        # the smallest difference between two counts of k per 7 days; day 0 always has a session
        return -(-(index + 1) * k // 7) != -(-index * k // 7)


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole revision: `anchor` is day one of the first phase."""

    anchor: date
    phases: tuple[PhasePlan, ...]
    items: tuple[ItemPlan, ...]
    # seconds of one session, minimum and full: worked out once, because every day of a calendar asks for them
    _session: tuple[int, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        session = (sum(item.seconds("minimum") for item in self.items), sum(item.seconds("full") for item in self.items))
        object.__setattr__(self, "_session", session)

    def session_seconds(self, end: End) -> int:
        """Seconds of one session."""
        return self._session[end == "full"]


@dataclass(frozen=True, slots=True)
class DayPlan:
    """What a plan asks for on one day; `sessions` None on a day without a session."""

    day: date
    phase_number: int             # 1 is the first
    phase: PhasePlan
    day_of_phase: int             # 1 is the first
    sessions: Span | None
    minimum_seconds: int
    full_seconds: int


def phase_on(plan: Plan, day: date) -> tuple[int, int]:
    """(index of the phase, index of the day in it), both from 0. ValueError before the anchor.

    A phase that waits for a decision, an open-ended one and the last one go on without end.
    """
    index = (day - plan.anchor).days
    if index < 0:
        raise ValueError(f"{day} is before the plan's first day {plan.anchor}")
    last = len(plan.phases) - 1
    for number, phase in enumerate(plan.phases):
        if phase.days is None or number == last or phase.advance == "by_decision" or index < phase.days:
            return number, index
        index -= phase.days
    raise AssertionError("a plan has at least one phase")


def day_plan(plan: Plan, day: date) -> DayPlan:
    """What the plan asks for on `day`."""
    number, index = phase_on(plan, day)
    phase = plan.phases[number]
    if not phase.active_on(index, day):
        return DayPlan(day, number + 1, phase, index + 1, None, 0, 0)
    return DayPlan(
        day, number + 1, phase, index + 1, phase.sessions,
        phase.sessions.minimum * plan.session_seconds("minimum"),
        phase.sessions.full * plan.session_seconds("full"),
    )


def phase_starts(plan: Plan) -> list[tuple[int, date]]:
    """(phase number from 1, first day) of every phase whose first day is known: none after a decision that is open."""
    starts, day = [], plan.anchor
    for number, phase in enumerate(plan.phases, start=1):
        starts.append((number, day))
        if phase.days is None or phase.advance == "by_decision":
            break
        day += timedelta(days=phase.days)
    return starts


def weekly_sessions(phase: PhasePlan) -> Span:
    """Sessions in an average week."""
    return Span(phase.sessions.minimum * phase.days_per_week, phase.sessions.full * phase.days_per_week)


def phase_seconds(plan: Plan, phase: PhasePlan, end: End) -> int:
    """Seconds asked for on a day of `phase` that has a session."""
    return phase.sessions.at(end) * plan.session_seconds(end)


def as_if_decided(plan: Plan) -> Plan:
    """The plan as it runs when every decision is taken on the day it is meant for: for previews only."""
    return replace(plan, phases=tuple(replace(phase, advance="by_date") for phase in plan.phases))


def from_phase(plan: Plan, number: int, day: date) -> Plan:
    """The plan that begins on `day` with phase `number` (1 is the first): the earlier phases are behind."""
    return replace(plan, anchor=day, phases=plan.phases[number - 1:])


def problems(phases: Sequence[PhasePlan], items: Sequence[ItemPlan]) -> dict[str, str]:
    """What is wrong with a plan, by field path; empty when it can be given.

    Phases go kick-off, taper, maintenance; a taper may not ask for more sessions a week than the phase before it; only
    the last phase may be open-ended; at most MOST_PHASES phases, MOST_ITEMS items and MOST_DAY_MINUTES a day.
    """
    found: dict[str, str] = {}
    if not items:
        found["items"] = "A program needs at least one exercise."
    if len(items) > MOST_ITEMS:
        found["items"] = f"A program can have {MOST_ITEMS} items at most, not {len(items)}."
    if not phases:
        found["phases"] = "A program needs at least one phase."
    if len(phases) > MOST_PHASES:
        found["phases"] = f"A program can have {MOST_PHASES} phases at most, not {len(phases)}."
    if len({item.key for item in items}) != len(items):
        found["items"] = "The same item appears twice."
    session = sum(item.seconds("full") for item in items)
    for index, phase in enumerate(phases):
        where = f"phases.{index}"
        found |= {f"{where}.{name}": text for name, text in _phase_problems(phase, index == len(phases) - 1).items()}
        if phase.sessions.full * session > MOST_DAY_MINUTES * 60:
            found[f"{where}.sessions"] = (
                f"This asks for {phase.sessions.full * session // 60} minutes a day; {MOST_DAY_MINUTES} is the most."
            )
        if index:
            found |= {f"{where}.{name}": text for name, text in _step_problems(phases[index - 1], phase).items()}
    return found


def _phase_problems(phase: PhasePlan, is_last: bool) -> dict[str, str]:
    found: dict[str, str] = {}
    if phase.days is not None and not 1 <= phase.days <= 366:
        found["days"] = f"A phase lasts 1 to 366 days, not {phase.days}."
    if phase.days is None and not is_last:
        found["days"] = "Only the last phase can go on without an end."
    if not 1 <= phase.days_per_week <= 7:
        found["days_per_week"] = f"A week has 1 to 7 days, not {phase.days_per_week}."
    if phase.weekdays and len(phase.weekdays) != phase.days_per_week:
        found["weekdays"] = f"{len(phase.weekdays)} days are chosen, but it says {phase.days_per_week} days a week."
    if phase.times and len(phase.times) != phase.sessions.full:
        found["times"] = (
            f"Choose one time of day for each session: {phase.sessions.full}, not {len(phase.times)}. Or choose none."
        )
    if phase.sessions.full > 6:
        found["sessions"] = f"Six sessions a day at most, not {phase.sessions.full}."
    return found


def _step_problems(before: PhasePlan, phase: PhasePlan) -> dict[str, str]:
    """What is wrong with going from one phase to the next."""
    found: dict[str, str] = {}
    if PHASE_ORDER.index(phase.kind) < PHASE_ORDER.index(before.kind):
        found["kind"] = "Phases go from kick-off to taper to maintenance."
    asked, asked_before = weekly_sessions(phase), weekly_sessions(before)
    if phase.kind == "taper" and (asked.full > asked_before.full or asked.minimum > asked_before.minimum):
        found["sessions"] = "A taper cannot ask for more sessions a week than the phase before it."
    return found
