"""Who a freed hour would suit: hard wishes leave out, the rest is an order with its reasons as codes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time

URGENT, SOON = 1, 2   # clinic/booking/vocab.py: Priority


@dataclass(frozen=True)
class Slot:
    """A freed start on the clock of the site."""

    day: date
    at: time
    clinician: int


@dataclass(frozen=True)
class Candidate:
    """Somebody who may want it. Waitlist: `priority` 1..3 and `since`; recall: a window instead. None: no wish."""

    key: str
    since: date
    priority: int | None = None
    clinician: int | None = None
    own_clinician: int | None = None
    weekdays: frozenset[int] = frozenset()
    earliest: time | None = None
    latest: time | None = None
    until: date | None = None
    window: tuple[date, date, date] | None = None


@dataclass(frozen=True)
class Match:
    """`reasons` are codes; `days` counts days overdue, or days waited."""

    candidate: Candidate
    reasons: tuple[str, ...]
    days: int


def match(slot: Slot, candidate: Candidate) -> Match | None:
    """Why the slot suits; None when a wish speaks against it, or it comes before the due window."""
    if candidate.clinician not in (None, slot.clinician):
        return None
    if candidate.weekdays and slot.day.weekday() not in candidate.weekdays:
        return None
    if not (candidate.earliest or time.min) <= slot.at < (candidate.latest or time.max):
        return None
    if candidate.until and slot.day > candidate.until:
        return None
    reasons, days = [], max((slot.day - candidate.since).days, 0)
    if candidate.window:
        earliest, due, _ = candidate.window
        if slot.day < earliest:
            return None
        days = max((slot.day - due).days, 0)
        reasons.append("overdue" if days else "in_window")
    else:
        reasons.append({URGENT: "urgent", SOON: "soon"}.get(candidate.priority or 0, "waiting"))
    if slot.clinician in (candidate.clinician, candidate.own_clinician):
        reasons.append("same_clinician")
    if candidate.weekdays:
        reasons.append("wished_day")
    if candidate.earliest or candidate.latest:
        reasons.append("wished_time")
    return Match(candidate, tuple(reasons), days)


RANK = {"urgent": 0, "overdue": 1, "soon": 2, "in_window": 3, "waiting": 4}


def rank(slot: Slot, candidates: Iterable[Candidate], limit: int) -> list[Match]:
    """The best: urgent, overdue, soon, inside the window, whenever; then their own clinician; then the longest."""
    found = [each for candidate in candidates if (each := match(slot, candidate)) is not None]
    found.sort(key=lambda each: (
        RANK[each.reasons[0]], "same_clinician" not in each.reasons, -each.days, each.candidate.since, each.candidate.key
    ))
    return found[:limit]
