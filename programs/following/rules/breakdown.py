"""How it goes, taken apart: by phase with an interval, by exercise with left against right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from programs.following.rules import adherence, intervals
from programs.following.rules.adherence import Counted
from programs.following.rules.change import item_of
from programs.following.rules.course import Course, LoggedSession, newest_edits
from programs.following.rules.fold import Folded

UNEVEN = 0.8   # the smaller side over the larger one, below which sides are called uneven (common practice, no source)


@dataclass(frozen=True, slots=True)
class PhasePart:
    """One unbroken run of days in a phase. `share` None when nothing in it counts yet; limits are Wilson 95 %."""

    kind: str
    first: date
    last: date
    share: float | None
    done: int
    asked: int
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class ItemPart:
    """One exercise over all sessions that asked for it. Seconds are sums; `ratio` is left over right, None without both."""

    item_key: UUID
    sessions: int               # logged sessions that asked for it
    done: int                   # of them with anything of it done
    credit: float               # mean, 0-1
    hurt: int                   # left out because it hurt
    left: int
    right: int
    ratio: float | None
    uneven: bool


def by_phase(folded: Folded, today: date) -> list[PhasePart]:
    """The phases in the order they were gone through."""
    runs: list[tuple[tuple[int | None, str], list[Counted]]] = []
    for day, counted in zip(folded.days, folded.counted, strict=True):
        place = (day.phase_number, day.phase_kind)
        if not runs or runs[-1][0] != place:
            runs.append((place, []))
        runs[-1][1].append(counted)
    found = []
    for (_, kind), days in runs:
        done, asked = adherence.sessions(days, today)
        limits = intervals.wilson(done, asked)
        found.append(PhasePart(
            kind, days[0].day, days[-1].day, adherence.share(days, today), done, asked,
            limits[0] if limits else None, limits[1] if limits else None,
        ))
    return found


def by_item(course: Course) -> list[ItemPart]:
    """The exercises of the newest revision, in its order: what every session came to for each, whichever plan it answered."""
    sessions = newest_edits(course.sessions)
    return [_item(course, sessions, item.key) for item in course.newest.plan.items] if course.newest else []


def _item(course: Course, sessions: Sequence[LoggedSession], key: UUID) -> ItemPart:
    credits: list[float] = []
    done = hurt = left = right = 0
    for session in sessions:
        plan = course.shown(session.shown)
        asked = item_of(plan, key) if plan else None
        if asked is None:
            continue
        entry = next((row for row in session.items if row.item_key == key), None)
        credits.append(adherence.item_credit(asked, entry))
        if entry is None:
            continue
        done += bool(entry.done_left or entry.done_right)
        hurt += entry.skipped == "pain"
        if asked.side == "each":
            left, right = left + entry.done_left, right + entry.done_right
    small, large = sorted((left, right))
    return ItemPart(
        key, len(credits), done, sum(credits) / len(credits) if credits else 0.0, hurt, left, right,
        left / right if left and right else None, large > 0 and small / large < UNEVEN,
    )
