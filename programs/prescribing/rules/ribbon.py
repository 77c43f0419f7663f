"""The dose ribbon: a program as a band along its days, drawn as SVG.

The band is as thick as the time asked for that day: the whole of it light, the minimum dark, what was done filled in.
It thins as a program tapers. A rest day is a thread, a paused day is hatched, a silent day (nothing logged) carries a
ring and a day logged as not done a bar across, so that the two are told apart without colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import groupby
from typing import Literal

DayState = Literal["session", "rest", "paused", "silent"]
THINNEST = 3.0   # user units: a day that asks for anything at all can be seen


@dataclass(frozen=True, slots=True)
class RibbonDay:
    """One day. `minimum`, `full` and `done` are seconds; `done` None where nothing can have been logged yet.

    `state`: session (asked for; done or still to come), silent (asked for, past, no log), rest, paused.
    """

    day: date
    state: DayState
    minimum: int = 0
    full: int = 0
    done: int | None = None
    today: bool = False


def ribbon_svg(
    days: Sequence[RibbonDay], *, title: str, width: int = 220, height: int = 28, most: int | None = None
) -> str:
    """The picture of `days`, in order. `title` is what is read aloud; `most` (seconds) is what fills the height.

    Without `most`, the longest day of these fills it; give the same `most` to compare ribbons. Classes: full, minimum,
    done, rest, today (the house style sheet colours them), silent, zero, paused.
    """
    step = width / max(1, len(days))
    peak = most or max((day.full for day in days), default=0) or 1
    parts = [
        f'<svg class="ribbon" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>'
    ]
    parts += _band(days, step, height, peak)
    parts += [mark for index, day in enumerate(days) for mark in _marks(day, index * step, step, height, peak)]
    return "".join([*parts, "</svg>"])


def _band(days: Sequence[RibbonDay], step: float, height: int, peak: int) -> list[str]:
    """Runs of like days as one shape each."""
    parts, index = [], 0
    for (state, minimum, full), run in groupby(days, key=_look):
        count = len(list(run))
        left, wide = index * step, count * step
        index += count
        if state == "paused":
            parts.append(_hatch(left, wide, height))
        elif state == "rest":
            middle = height / 2
            parts.append(
                f'<line class="rest" x1="{_n(left)}" y1="{_n(middle)}" x2="{_n(left + wide)}" y2="{_n(middle)}" '
                'stroke-width="1.5"/>'
            )
        else:
            parts.append(_bar("full", left, wide, height, full, peak))
            parts.append(_bar("minimum", left, wide, height, minimum, peak))
    return parts


def _look(day: RibbonDay) -> tuple[str, int, int]:
    asked = day.state in {"session", "silent"}
    return ("asked" if asked else day.state, day.minimum if asked else 0, day.full if asked else 0)


def _marks(day: RibbonDay, left: float, step: float, height: int, peak: int) -> list[str]:
    """What was done that day, silence, and today."""
    parts, middle, centre = [], height / 2, left + step / 2
    ring = max(1.0, min(step * 0.32, height * 0.12))
    if day.state == "silent":
        parts.append(
            f'<circle class="silent" cx="{_n(centre)}" cy="{_n(middle)}" r="{_n(ring)}" fill="#ffffff" '
            'stroke="#22282a" stroke-width="0.8"/>'
        )
    elif day.state == "session" and day.done == 0:
        parts.append(
            f'<line class="zero" x1="{_n(centre - ring)}" y1="{_n(middle)}" x2="{_n(centre + ring)}" y2="{_n(middle)}" '
            'stroke="#ffffff" stroke-width="1.6"/>'
        )
    elif day.state == "session" and day.done:
        parts.append(_bar("done", left + step * 0.18, step * 0.64, height, min(day.done, day.full), peak))
    if day.today:
        parts.append(
            f'<line class="today" x1="{_n(centre)}" y1="0" x2="{_n(centre)}" y2="{height}" stroke-width="1.5"/>'
            f'<path class="today" d="M{_n(centre - 2.5)} 0H{_n(centre + 2.5)}" stroke-width="2"/>'
        )
    return parts


def _bar(name: str, left: float, wide: float, height: int, seconds: int, peak: int) -> str:
    thick = max(THINNEST, min(1.0, seconds / peak) * (height - 2))
    return (
        f'<rect class="{name}" x="{_n(left)}" y="{_n((height - thick) / 2)}" width="{_n(wide)}" '
        f'height="{_n(thick)}" rx="{_n(min(1.5, wide / 4))}"/>'
    )


def _hatch(left: float, wide: float, height: int) -> str:
    """Slanted strokes, four units apart, inside the paused days."""
    tall, low = height * 0.5, height * 0.75
    strokes, at = [], left
    while at < left + wide:
        end = min(at + 3, left + wide)
        strokes.append(f"M{_n(at)} {_n(low)}L{_n(end)} {_n(low - tall)}")
        at += 4
    return f'<path class="paused rest" d="{"".join(strokes)}" fill="none" stroke-width="1"/>'


def _n(value: float) -> str:
    """A coordinate with at most two decimals."""
    return f"{value:.2f}".rstrip("0").rstrip(".")
