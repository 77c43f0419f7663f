"""Programs by phase; exercises by level and by time at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import plotly.graph_objects as go

from dashboards.figures.adherence import PHASES
from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    SKY,
    VERMILLION,
    bars,
    counted,
    figure,
    nothing,
)
from dashboards.read_models.rows import STUCK_DAYS, TIMES, ItemRow, by_level, stuck

LOOKS = ((SKY, ""), (GREEN, "-"), (ORANGE, "/"), (VERMILLION, "x"))   # one for each time


def time_word(index: int) -> str:
    """`under 14 days`, `14 to 27 days`, `42 days or more`."""
    first, last = TIMES[index]
    if not first:
        return f"under {(last or 0) + 1} days"
    return f"{first} to {last} days" if last else f"{first} days or more"


def phases(counts: Mapping[str, int]) -> go.Figure:
    """A bar a phase."""
    if not sum(counts.values()):
        return nothing("No open program yet")
    shown = list(PHASES)
    fig = figure(phases_title(counts), height=110 + 40 * len(shown))
    for colour, hatch, some in ((BLUE, "", {"kick_off", "taper", "maintenance"}), (GREY, "|", {"not_begun", "paused"})):
        numbers = [counts.get(phase, 0) if phase in some else 0 for phase in shown]
        fig.add_bar(
            y=[PHASES[phase] for phase in shown], x=numbers, orientation="h", showlegend=False,
            hovertemplate="%{y}: %{x} programs<extra></extra>", **bars(colour, hatch, numbers),
        )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Programs", rangemode="tozero", tickformat="d")
    return fig


def phases_title(counts: Mapping[str, int]) -> str:
    """How many programs are past the kick-off."""
    total = sum(counts.values())
    past = counts.get("taper", 0) + counts.get("maintenance", 0)
    verb = "is" if past == 1 else "are"
    return f"{past} of {counted(total, 'program')} {verb} past the kick-off"


def levels(items: Sequence[ItemRow]) -> go.Figure:
    """A column a level number, cut by how long the exercises have been at it."""
    if not items:
        return nothing("No exercise is in force yet")
    counts = by_level(items)
    numbers = list(range(1, max(row.level for row in items) + 1))
    fig = figure(levels_title(items), height=340)
    for time, (colour, hatch) in enumerate(LOOKS):
        heights = [counts[number, time] for number in numbers]
        if sum(heights):
            word = time_word(time)
            fig.add_bar(
                x=[f"Level {number}" for number in numbers], y=heights, name=word.capitalize(),
                hovertemplate=f"%{{x}}: %{{y}} exercises at it for {word}<extra></extra>", **bars(colour, hatch, heights),
            )
    fig.update_layout(barmode="stack")
    fig.update_xaxes(type="category", showgrid=False)
    fig.update_yaxes(title="Exercises", rangemode="tozero", tickformat="d")
    return fig


def levels_title(items: Sequence[ItemRow]) -> str:
    """How many exercises no longer move."""
    number = len(stuck(items))
    if not number:
        return f"No exercise has stood still for {STUCK_DAYS} days with a harder level there"
    verb = "has" if number == 1 else "have"
    total = counted(len(items), "exercise")
    return f"{number} of {total} {verb} stood still for {STUCK_DAYS} days or more with a harder level there"
