"""What pain says about a session: the pain-monitoring zones, the next morning, week on week.

Zones and the two further conditions: Thomee R 1997, Phys Ther 77(12):1690-1703 (zone edges from memory of the paper:
0-2 safe, 2-5 acceptable, 5-10 too high). Silbernagel KG et al. 2007, Am J Sports Med 35(6):897-906: pain may reach but
not pass 5 of 10 while loading. A whole-number scale leaves 0-2, 3-5 and above 5. Published summaries differ about the edge
between safe and acceptable; the edges are thresholds a practice can change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

Zone = Literal["safe", "acceptable", "too_much"]
Verdict = Literal["go_on", "hold", "ease"]


@dataclass(frozen=True, slots=True)
class Edges:
    """Points on 0-10. `morning_rise` above the level before the session asks to ease; anything above it asks to hold."""

    safe_most: int = 2
    acceptable_most: int = 5
    morning_rise: int = 2


def zone(pain: int, edges: Edges) -> Zone:
    """The zone of the worst pain during a session."""
    if pain <= edges.safe_most:
        return "safe"
    return "acceptable" if pain <= edges.acceptable_most else "too_much"


def morning_rise(before: int | None, morning: int | None, edges: Edges) -> int | None:
    """Points by which the next morning is above the level before the session (0 when settled); None when not answered.

    Without an answer before the session the safe zone is the level to come back to.
    """
    if morning is None:
        return None
    return max(0, morning - (edges.safe_most if before is None else before))


def verdict(during: int | None, before: int | None, morning: int | None, edges: Edges) -> Verdict:
    """What one session allows: go on (safe and settled), hold, or ease.

    A session nobody rated holds nothing back and is not a reason to go on either; the rules ask for a rating there.
    """
    rise = morning_rise(before, morning, edges) or 0
    where = "safe" if during is None else zone(during, edges)
    if where == "too_much" or rise >= edges.morning_rise:
        return "ease"
    return "hold" if where == "acceptable" or rise else "go_on"


def weekly_means(pains: Sequence[tuple[date, int]], last: date) -> list[float]:
    """Mean pain of each week of seven days ending on `last`, oldest first; stops at a week without an answer."""
    weeks: dict[int, list[int]] = {}
    for day, pain in pains:
        if day <= last:
            weeks.setdefault((last - day).days // 7, []).append(pain)
    means: list[float] = []
    for back in range(len(weeks)):
        if back not in weeks:
            break
        means.append(sum(weeks[back]) / len(weeks[back]))
    return means[::-1]


def rises_in_a_row(means: Sequence[float]) -> int:
    """How many of the newest steps from week to week went up, without a break."""
    count = 0
    for earlier, later in zip(reversed(means[:-1]), reversed(means[1:]), strict=True):
        if later <= earlier:
            break
        count += 1
    return count
