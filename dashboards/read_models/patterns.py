"""Programs whose days look alike: a name for the pattern of four weeks, by a rule that anybody can check with a pencil.

Bounds are common practice, no source. Only days that ask for something and count are looked at; a day on which anything was
done is done.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dashboards.read_models.rows import WeekCell

LEAST = 7          # days, below which there is no pattern
RECENT = 7         # the last of those days: nothing done in all of them is a stop
TURN = 0.3         # between the share of the first and of the second half
WEEKEND = 0.4      # between the share of weekdays and of weekends
LEAST_WEEKEND = 4  # days of either kind
STEADY = 0.8
PATTERNS = ("none", "stopped", "fading", "on_off", "weekdays", "weekends", "rising", "steady", "few")   # as they are shown
SATURDAY = 5


def pattern(days: Sequence[date], cells: Sequence[WeekCell]) -> str:
    """One of PATTERNS for a program's days, oldest first; the first that fits, in the order below."""
    done = [(day, bool(cell.share)) for day, cell in zip(days, cells, strict=True) if cell.asked]
    marks = [mark for _, mark in done]
    if len(marks) < LEAST:
        return "few"
    if not any(marks):
        return "none"
    if not any(marks[-RECENT:]):
        return "stopped"
    half = len(marks) // 2
    turn = _share(marks[half:]) - _share(marks[:half])
    if abs(turn) >= TURN:
        return "rising" if turn > 0 else "fading"
    weekdays, weekends = ([mark for day, mark in done if (day.weekday() >= SATURDAY) == late] for late in (False, True))
    if min(len(weekdays), len(weekends)) >= LEAST_WEEKEND:
        apart = _share(weekdays) - _share(weekends)
        if abs(apart) >= WEEKEND:
            return "weekdays" if apart > 0 else "weekends"
    return "steady" if _share(marks) >= STEADY else "on_off"


def _share(marks: Sequence[bool]) -> float:
    return sum(marks) / len(marks)
