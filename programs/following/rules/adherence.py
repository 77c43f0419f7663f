"""What was done, held against what was asked for.

An item's credit is `min(1, done / minimum)` on each side, averaged over its sides. A session's credit is the mean of its
items' credits weighted by their prescribed seconds. A day's credit is credited sessions over the sessions asked for at
least, at most 1. Conventions of our own (literature has no agreed definition: Bailey DL et al. 2020, Br J Sports Med
54(6):326-331, whose commonest satisfactory level, 80 % of what was recommended, is where `on track` begins).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal
from uuid import UUID

from programs.following.rules.entry import ItemEntry
from programs.library.rules.dose import End
from programs.prescribing.rules.plan import ItemPlan, Plan

MICRO = 1_000_000   # credits are added as whole millionths
DayStateName = Literal["prescribed", "rest", "paused"]
BandName = Literal["on_track", "partly", "low", "silent", "new", "paused"]


@dataclass(frozen=True, slots=True)
class Bands:
    """Where one word ends and the next begins: shares 0-1, days, points of pain of 10."""

    on_track: float = 0.8
    partly: float = 0.5
    silent_kick_off: int = 3
    silent_after: int = 7
    new_days: int = 2
    overdose: float = 1.5
    pain_most: int = 5            # the most that is acceptable in a session


@dataclass(frozen=True, slots=True)
class Counted:
    """One day as a window sees it."""

    day: date
    state: DayStateName
    asked: int                    # sessions asked for at least; 0 on a rest or paused day
    credit: float                 # 0-1
    sessions: int                 # sessions with anything done
    logged: bool
    seconds: int                  # done
    full: int                     # seconds asked for at most
    least: int = 0                # seconds asked for at least


@dataclass(frozen=True, slots=True)
class Tally:
    """What days that count come to, in whole numbers: the same in any order, and what was added can be taken off again."""

    days: int = 0
    silent: int = 0               # of them without a log
    asked: int = 0                # sessions
    done: int = 0                 # sessions; extra ones of a day do not make up for others
    micro: int = 0                # credited sessions, in millionths
    least: int = 0                # seconds asked for at least

    @classmethod
    def of(cls, days: int, silent: int, asked: int, done: int, credit: float, least: int) -> Tally:
        """From columns that hold credited sessions as a fraction."""
        return cls(days, silent, asked, done, round(credit * MICRO), least)

    def __add__(self, other: Tally) -> Tally:
        return Tally(
            self.days + other.days, self.silent + other.silent, self.asked + other.asked, self.done + other.done,
            self.micro + other.micro, self.least + other.least,
        )

    def __sub__(self, other: Tally) -> Tally:
        return Tally(
            self.days - other.days, self.silent - other.silent, self.asked - other.asked, self.done - other.done,
            self.micro - other.micro, self.least - other.least,
        )

    @property
    def credit(self) -> float:
        """Credited sessions."""
        return self.micro / MICRO

    @property
    def share(self) -> float | None:
        """Credited sessions over sessions asked for; None when nothing was."""
        return self.micro / MICRO / self.asked if self.asked else None


def sides_done(item: ItemPlan, done: ItemEntry) -> tuple[int, ...]:
    """Seconds done per side that the item is given for: two numbers for `each`, one otherwise."""
    match item.side:
        case "each":
            return done.done_left, done.done_right
        case "left":
            return (done.done_left,)
        case "right":
            return (done.done_right,)
    return (done.done_left + done.done_right,)


def item_credit(item: ItemPlan, done: ItemEntry | None) -> float:
    """0-1: min(1, done / minimum) per side, averaged over sides."""
    if done is None:
        return 0.0
    least = item.work("minimum") / item.sides
    shares = [min(1.0, seconds / least) for seconds in sides_done(item, done)]
    return sum(shares) / len(shares)


def item_ratio(item: ItemPlan, done: ItemEntry | None, end: End) -> float:
    """Seconds done over seconds asked for at that end, uncapped."""
    return 0.0 if done is None else sum(sides_done(item, done)) / item.work(end)


def left_over_right(item: ItemPlan, done: ItemEntry) -> float | None:
    """Left seconds over right seconds of an item given for each side; None for others and without any on the right."""
    if item.side != "each" or done.done_right == 0:
        return None
    return done.done_left / done.done_right


def session_credit(plan: Plan, done: Mapping[UUID, ItemEntry]) -> float:
    """0-1: mean of item credits, weighted by the seconds each takes at least."""
    return weighed_session(weighed(plan), done)[0]


def session_seconds(plan: Plan, done: Mapping[UUID, ItemEntry]) -> int:
    """Seconds a session took: the work done, and the getting into position of every item that was begun."""
    return weighed_session(weighed(plan), done)[1]


@dataclass(frozen=True, slots=True)
class Weighed:
    """An item with what a session's credit and seconds ask of its plan, worked out once for many sessions."""

    item: ItemPlan
    least: float                  # seconds a side that count as done
    weight: int                   # seconds it takes at least, set-up included
    setup: int                    # of them without work


def weighed(plan: Plan) -> tuple[Weighed, ...]:
    """The items of a plan, weighed."""
    return tuple(
        Weighed(
            item, item.work("minimum") / item.sides, item.seconds("minimum"), item.seconds("minimum") - item.work("minimum")
        )
        for item in plan.items
    )


def weighed_session(items: Sequence[Weighed], done: Mapping[UUID, ItemEntry]) -> tuple[float, int]:
    """(session_credit, session_seconds) of a plan that was weighed before."""
    credit, total, seconds = 0.0, 0, sum(entry.done_left + entry.done_right for entry in done.values())
    for each in items:
        total += each.weight
        entry = done.get(each.item.key)
        if entry is not None:
            credit += each.weight * weighed_credit(each, entry)
            if entry.done_left or entry.done_right:
                seconds += each.setup
    return credit / total, seconds


def weighed_credit(each: Weighed, done: ItemEntry) -> float:
    """`item_credit` of an item that was weighed before."""
    if each.item.side == "each":
        return (min(1.0, done.done_left / each.least) + min(1.0, done.done_right / each.least)) / 2
    return min(1.0, sum(sides_done(each.item, done)) / each.least)


def day_credit(session_credits: Iterable[float], asked: int) -> float:
    """0-1: credited sessions over sessions asked for; 0 on a day that asks for none."""
    return min(1.0, sum(session_credits) / asked) if asked else 0.0


def counts(day: Counted, today: date) -> bool:
    """Whether a day is in the denominator: something was asked, and it is past, or today and already answered."""
    return day.asked > 0 and (day.day < today or (day.day == today and day.logged))


def tally(days: Iterable[Counted], today: date) -> Tally:
    """The days that count, added up."""
    number = silent = asked = done = micro = least = 0
    for day in days:
        if counts(day, today):
            number += 1
            silent += not day.logged
            asked += day.asked
            done += min(day.sessions, day.asked)
            micro += round(day.credit * day.asked * MICRO)
            least += day.least
    return Tally(number, silent, asked, done, micro, least)


def share(days: Iterable[Counted], today: date) -> float | None:
    """Credited sessions over sessions asked for; None when nothing counts yet."""
    return tally(days, today).share


def sessions(days: Iterable[Counted], today: date) -> tuple[int, int]:
    """(sessions done, sessions asked for) over the days that count; extra sessions of a day do not make up for others."""
    found = tally(days, today)
    return found.done, found.asked


def overdose(days: Iterable[Counted], today: date) -> float | None:
    """Seconds done over the most that was asked for, uncapped; None when nothing was asked."""
    counted = [day for day in days if day.day <= today and day.state != "paused" and (day.logged or day.day < today)]
    full = sum(day.full for day in counted)
    return sum(day.seconds for day in counted) / full if full else None


def silence(days: Iterable[Counted], today: date) -> tuple[int, date | None]:
    """Days without any answer up to yesterday, counted from the first one that asked for a session, and that day.

    Paused days are left out. (0, None) when the newest session asked for was answered.
    """
    begun: date | None = None
    length = 0
    for day in days:
        if day.logged:
            begun, length = None, 0
        elif day.day < today and day.state != "paused":
            if begun is None and day.asked:
                begun = day.day
            if begun is not None:
                length += 1
    return length, begun


def band(
    *, recent: float | None, silent_days: int, kick_off: bool, paused: bool, counted_days: int, bands: Bands
) -> BandName:
    """The one word for how it goes. Silence outranks the share: no answer is not the same as not done."""
    if paused:
        return "paused"
    if silent_days >= (bands.silent_kick_off if kick_off else bands.silent_after):
        return "silent"
    if recent is None or counted_days < bands.new_days:
        return "new"
    if recent >= bands.on_track:
        return "on_track"
    return "partly" if recent >= bands.partly else "low"
