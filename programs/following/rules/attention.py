"""Who needs a person first: points that add up in plain sight, largest reason first.

The weights are ours (common practice, no source): an open red-flag answer outranks everything that can add up without
one; pain outranks silence; silence outranks little done.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from programs.following.rules.adherence import Bands

Reason = dict[str, int | float | str]

RED_FLAG = 1000           # more than all others together
PAIN_TOO_MUCH = 100       # above what is acceptable; more with each further point
PAIN_EACH_POINT = 20
PAIN_RISING = 80
SILENT = 90               # when the band says silent; more with each further day
SILENT_EACH_DAY = 2
SILENT_MOST = 60
OVERDOSE = 60
LOOK_OVERDUE = 40         # a reassessment nobody booked; more with each further week
LOOK_EACH_WEEK = 10
LOOK_MOST = 40
LOW = 50
PARTLY = 20


@dataclass(frozen=True, slots=True)
class _Part:
    points: int
    reason: Reason


def order(
    *, band: str, share: float | None, silent_days: int, pain: int | None, slope: float | None, overdose: float | None,
    open_alerts: int, bands: Bands,
) -> tuple[int, tuple[Reason, ...]]:
    """(points, reasons), each reason a code with its numbers and points; equal points keep the order of the code.

    `slope` is points of pain a week when its interval lies above 0, otherwise None. A paused program counts only its alerts
    and its last pain.
    """
    parts: list[_Part] = []

    def add(code: str, points: int, **numbers: float) -> None:
        parts.append(_Part(points, {"code": code, "points": points, **{k: round(v, 3) for k, v in numbers.items()}}))

    if open_alerts:
        add("red_flag", RED_FLAG, open=open_alerts)
    if pain is not None and pain > bands.pain_most:
        add("pain", PAIN_TOO_MUCH + PAIN_EACH_POINT * (pain - bands.pain_most - 1), pain=pain)
    if band != "paused":
        if slope is not None and slope > 0:
            add("pain_rising", PAIN_RISING, points_a_week=slope)
        if band == "silent":
            add("silent", SILENT + min(SILENT_MOST, SILENT_EACH_DAY * silent_days), days=silent_days)
        if overdose is not None and overdose > bands.overdose:
            add("overdose", OVERDOSE, ratio=overdose)
        if band in {"low", "partly"} and share is not None:
            add(band, LOW if band == "low" else PARTLY, share=share)
    parts.sort(key=lambda part: (-part.points, str(part.reason["code"])))
    return sum(part.points for part in parts), tuple(part.reason for part in parts)


def with_look(points: int, reasons: Sequence[Reason], overdue: int) -> tuple[int, tuple[Reason, ...]]:
    """Points and reasons with a reassessment that is `overdue` days past its due day and not booked; unchanged at 0.

    It is added when a caseload is read, not stored: booking it takes it away at once, whoever books.
    """
    if overdue <= 0:
        return points, tuple(reasons)
    more = LOOK_OVERDUE + min(LOOK_MOST, LOOK_EACH_WEEK * (overdue // 7))
    look: Reason = {"code": "look_overdue", "points": more, "days": overdue}
    return points + more, tuple(sorted([*reasons, look], key=_largest_first))


def _largest_first(reason: Reason) -> tuple[float, str]:
    return -float(reason["points"]), str(reason["code"])
