"""Which revision asks for what on which day, when revisions follow one another and days are paused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeVar

from programs.prescribing.rules.plan import DayPlan, Plan, day_plan
from programs.prescribing.rules.ribbon import RibbonDay

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class TimelineDay:
    """One day: what is asked for (None before the first revision takes effect), and whether it is paused."""

    day: date
    asked: DayPlan | None
    paused: bool


def in_force(versions: Sequence[tuple[date, T]], day: date) -> T | None:
    """The version that counts on `day`: the newest whose effective day has come. `versions` are oldest first."""
    return next((version for effective, version in reversed(versions) if effective <= day), None)


def is_paused(pauses: Sequence[tuple[date, date | None]], day: date) -> bool:
    """Whether `day` lies in a pause (first, until); `until` itself counts again, None is still paused."""
    return any(first <= day and (until is None or day < until) for first, until in pauses)


def timeline(
    plans: Sequence[tuple[date, Plan]], pauses: Sequence[tuple[date, date | None]], first: date, last: date
) -> list[TimelineDay]:
    """Every day from `first` to `last`, both included."""
    days = []
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        plan = in_force(plans, day)
        days.append(TimelineDay(day, day_plan(plan, day) if plan else None, is_paused(pauses, day)))
    return days


def asked_ribbon(days: Sequence[TimelineDay], today: date | None = None) -> list[RibbonDay]:
    """The ribbon of what is asked for, without what was done."""
    return [_ribbon_day(day, today) for day in days if day.asked]


def _ribbon_day(row: TimelineDay, today: date | None) -> RibbonDay:
    is_today = row.day == today
    if row.paused:
        return RibbonDay(row.day, "paused", today=is_today)
    if row.asked is None or row.asked.sessions is None:
        return RibbonDay(row.day, "rest", today=is_today)
    return RibbonDay(row.day, "session", row.asked.minimum_seconds, row.asked.full_seconds, None, is_today)
