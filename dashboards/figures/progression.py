"""Programs by phase; exercises by level and by time at it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import plotly.graph_objects as go

from dashboards.figures.adherence import PHASES
from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    PURPLE,
    SKY,
    VERMILLION,
    YELLOW,
    bars,
    counted,
    dated,
    day,
    figure,
    nothing,
)
from dashboards.read_models.rows import STUCK_DAYS, TIMES, Decided, MonthRow
from programs.following.rules.intervals import wilson
from programs.following.rules.survival import Step, median_day

LOOKS = ((SKY, ""), (GREEN, "-"), (ORANGE, "/"), (VERMILLION, "x"))   # one for each time
SEVERAL = ((SKY, ""), (GREEN, "-"), (ORANGE, "/"), (BLUE, "."), (PURPLE, "x"), (YELLOW, "|"), (VERMILLION, "\\"), (GREY, "+"))
OUTCOMES = (
    ("Accepted", "accepted", GREEN, ""), ("Altered", "altered", SKY, "-"), ("Declined", "declined", ORANGE, "/"),
    ("Waiting", "open", YELLOW, "."), ("Outdated", "outdated", GREY, "|"),
)
WHY = {
    "waits": "A suggestion to progress waits for a decision", "declined": "The last suggestion to progress was declined",
    "pain": "Pain is higher than acceptable", "silent": "The client is silent", "low": "Too little is done to tell",
    "quiet": "No rule has proposed a harder level",
}


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


def levels(counts: Mapping[tuple[int, int], int], still: int) -> go.Figure:
    """A column a level number, cut by how long the exercises have been at it; `still` of them no longer move."""
    if not sum(counts.values()):
        return nothing("No exercise is in force yet")
    numbers = list(range(1, max(level for level, _ in counts) + 1))
    fig = figure(levels_title(sum(counts.values()), still), height=340)
    for time, (colour, hatch) in enumerate(LOOKS):
        heights = [counts.get((number, time), 0) for number in numbers]
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


def levels_title(items: int, still: int) -> str:
    """How many exercises no longer move."""
    if not still:
        return f"No exercise has stood still for {STUCK_DAYS} days with a harder level there"
    verb = "has" if still == 1 else "have"
    total = counted(items, "exercise")
    return f"{still} of {total} {verb} stood still for {STUCK_DAYS} days or more with a harder level there"


def over_time(rows: Sequence[MonthRow], days: Sequence[date], *, levels: bool) -> go.Figure:
    """Columns by month, cut by phase or by level."""
    shown = [row for row in rows if sum(row.counts)]
    if not shown:
        return nothing("Nothing has begun yet")
    fig = dated(figure(over_time_title(shown, levels=levels), height=340), days)
    order = sorted(shown, key=lambda row: row.name if levels else list(PHASES).index(row.name))
    for row, (colour, hatch) in zip(order, SEVERAL, strict=False):
        word = f"Level {row.name}" if levels else PHASES[row.name]
        fig.add_bar(
            x=[day(each) for each in days], y=list(row.counts), name=word,
            hovertemplate=f"%{{x}}: %{{y}} {'exercises at' if levels else 'programs in'} {word.lower()}<extra></extra>",
            **bars(colour, hatch, row.counts),
        )
    fig.update_layout(barmode="stack")
    fig.update_xaxes(type="category", showgrid=False)
    fig.update_yaxes(title="Exercises" if levels else "Programs", rangemode="tozero", tickformat="d")
    return fig


def over_time_title(rows: Sequence[MonthRow], *, levels: bool) -> str:
    """Where most stand now, and what share."""
    total = sum(row.counts[-1] for row in rows)
    if not total:
        return "Nothing is in force today"
    most = max(rows, key=lambda row: (row.counts[-1], row.name))
    if levels:
        beyond = sum(row.counts[-1] for row in rows if row.name != "1")
        return f"{beyond} of {counted(total, 'exercise')} are past level 1 today"
    return f"{most.counts[-1]} of {counted(total, 'program')} are in {PHASES[most.name].lower()} today"


def decisions(rows: Sequence[Decided], words: Mapping[str, str]) -> go.Figure:
    """A bar a kind of suggestion, cut by what became of it; `words` by kind."""
    if not rows:
        return nothing("Nothing has been suggested yet")
    fig = figure(decisions_title(rows), height=110 + 44 * len(rows))
    for word, name, colour, hatch in OUTCOMES:
        numbers = [getattr(row, name) for row in rows]
        if sum(numbers):
            fig.add_bar(
                y=[words[row.kind] for row in rows], x=numbers, orientation="h", name=word,
                hovertemplate=f"%{{y}}: %{{x}} {word.lower()}<extra></extra>", **bars(colour, hatch, numbers),
            )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Suggestions", rangemode="tozero", tickformat="d")
    return fig


def decisions_title(rows: Sequence[Decided]) -> str:
    """Of those that were decided, how many were taken up, with the interval."""
    answered, taken = sum(row.answered for row in rows), sum(row.accepted + row.altered for row in rows)
    limits = wilson(taken, answered)
    if limits is None:
        return f"{counted(sum(row.open for row in rows), 'suggestion')} waiting, none decided yet"
    return (
        f"{taken} of {counted(answered, 'decided suggestion')} accepted or altered "
        f"(95 % interval {round(100 * limits[0])} to {round(100 * limits[1])} %)"
    )


def taper_curve(steps: Sequence[Step], people: int, tapered: int, arrived: int) -> go.Figure:
    """The share of clients who kept going by days since their taper began, with its interval."""
    if not people:
        return nothing("Nobody has begun a taper yet")
    fig = figure(taper_title(steps, tapered, arrived))
    drawn = [step for step in steps if step.low is not None]
    days_of = [0, *(step.day for step in drawn)]
    low, high = [1.0, *(step.low or 0 for step in drawn)], [1.0, *(step.high or 0 for step in drawn)]
    for values, fill in ((high, None), (low, "tonexty")):
        fig.add_scatter(
            x=days_of, y=[100 * value for value in values], mode="lines", fill=fill, fillcolor="rgba(86,180,233,.25)",
            line={"width": 0, "shape": "hv"}, hoverinfo="skip", showlegend=False,
        )
    fig.add_scatter(
        x=[0, *(step.day for step in steps)], y=[100, *(100 * step.share for step in steps)], mode="lines+markers",
        line={"color": BLUE, "width": 3, "shape": "hv"}, marker={"size": 5}, name="Still going",
        customdata=[[people, 100.0, 100.0], *([step.at_risk, _hundred(step.low), _hundred(step.high)] for step in steps)],
        meta=["Followed that far", "Limit low (%)", "Limit high (%)"],
        hovertemplate="Day %{x} after the taper began: %{y:.0f} % still going, %{customdata[0]} followed so far"
        "<extra></extra>",
    )
    fig.update_layout(showlegend=False)
    fig.update_xaxes(title="Days since the taper began, pauses left out", rangemode="tozero", tickformat="d")
    fig.update_yaxes(title="% still going", range=[0, 104], tickformat="d")
    return fig


def _hundred(share: float | None) -> float | None:
    return None if share is None else round(100 * share, 1)


def taper_title(steps: Sequence[Step], tapered: int, arrived: int) -> str:
    """Half have lapsed by when, and how many came to maintenance."""
    half = median_day(steps)
    word = f"half have lapsed {half} days after it began" if half else "more than half still keep going"
    return f"{arrived} of {counted(tapered, 'tapered program')} came to maintenance; {word}"
