"""One episode on one axis of days: what happened, minutes asked and done, pain and effort, levels, measures."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import plotly.graph_objects as go
from plotly.subplots import make_subplots

from dashboards.figures.cells import WORDS_ONLY
from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    INK,
    LOOK,
    ORANGE,
    PURPLE,
    SKY,
    VERMILLION,
    YELLOW,
    counted,
    day,
    nothing,
    plain,
)
from dashboards.read_models.timeline_rows import DayRow, MeasureLine, Timeline, VisitKind, lanes

GAP = 62              # pixels between two parts: the ticks of one and the name of the next
DAY = 86_400_000      # milliseconds
LONGEST_LINK = 7      # days without an answer that a line is still drawn across
YEAR = timedelta(days=330)   # beyond it the months' names come round again
LEVELS = (SKY, GREEN, ORANGE, YELLOW, PURPLE)
VISITS: dict[VisitKind, tuple[str, str, str]] = {   # word, marker, colour
    "kept": ("kept", "circle", GREEN), "missed": ("no-show", "x", VERMILLION),
    "cancelled": ("cancelled", "circle-open", GREY), "coming": ("to come", "diamond-open", BLUE),
    "unclosed": ("not closed yet", "square-open", ORANGE),
}
MORE = {"zero": "logged as not done", "silent": "no log", "waiting": "no log yet", "rest": "nothing asked for"}
Add = Callable[..., Any]
Draw = Callable[[Timeline, Add, go.Figure, int], None]


def timeline(found: Timeline) -> go.Figure:
    """All of it under one another; the title says how the dose, the pain and the measures have gone."""
    if found.empty:
        return nothing("Nothing has been asked, measured or booked yet")
    parts: list[tuple[str, int, Draw]] = [
        ("What happened", 64, _events), ("Minutes a day", 170, _minutes), ("Pain and effort, 0 to 10", 150, _answers),
    ]
    if found.levels:
        parts.append(("Level of each exercise", 24 + 36 * len(lanes(found.levels)), _levels))
    parts += [(plain(measure_name(line)), 130, _measure_of(line)) for line in found.measures]
    heights = [height for _, height, _ in parts]
    whole = sum(heights) + GAP * (len(parts) - 1)
    fig = make_subplots(
        rows=len(parts), shared_xaxes=True, row_heights=heights, vertical_spacing=GAP / whole,
        subplot_titles=[name for name, _, _ in parts],
    )
    fig.update_layout(template=LOOK, title={"text": title(found)}, height=whole + 60, showlegend=False, barmode="overlay")
    fig.update_layout(margin={"t": 28})
    fig.update_annotations(x=0, xanchor="left", font={"size": 14})
    for row, (_, _, draw) in enumerate(parts, start=1):
        draw(found, lambda trace, row=row: fig.add_trace(trace, row=row, col=1), fig, row)
    _days(fig, found)
    return fig


def title(found: Timeline) -> str:
    """The share of the dose, where pain went, and the first measure that was taken twice."""
    parts = []
    if found.dose.share is not None:
        parts.append(f"{round(100 * min(1.0, found.dose.share))} % of the dose done")
    if found.pain:
        parts.append("pain {:.1f} at first and {:.1f} lately".format(*found.pain))
    line = next((line for line in found.measures if len(line.points) > 1), None)
    if line:
        parts.append(f"{measure_name(line)} from {line.points[0][1]:g} to {line.points[-1][1]:g}")
    if not parts:
        return "Too early to say how it goes"
    text = ", ".join(parts)
    return text[0].upper() + text[1:]


def measure_name(line: MeasureLine) -> str:
    """`Hip flexion, left`."""
    return f"{line.name}, {line.side}" if line.side in {"left", "right"} else line.name


def _days(fig: go.Figure, found: Timeline) -> None:
    """The axis, and what concerns all parts: pauses, days from which a revision counts, today."""
    edge = timedelta(days=1)
    fig.update_xaxes(
        type="date", range=[f"{found.first - edge}", f"{found.last + timedelta(days=1)}"], showticklabels=True,
        showgrid=False, tickformat="%-d %b", nticks=7, tickangle=0,
        tickformatstops=[{"dtickrange": ["M1", None], "value": "%b %y" if found.last - found.first > YEAR else "%b"}],
    )
    for pause in found.pauses:
        fig.add_shape(
            type="rect", xref="x", yref="paper", x0=_half(pause.first, -1), x1=_half(pause.last, 1), y0=0, y1=1,
            layer="below", line={"width": 0}, fillcolor=GREY, opacity=0.22,
        )
    for revision in found.revisions[1:]:
        _upright(fig, revision.day, "dot")
    if found.last > found.today:
        _upright(fig, found.today, "solid")


def _upright(fig: go.Figure, at: date, dash: str) -> None:
    fig.add_shape(
        type="line", xref="x", yref="paper", x0=f"{at}", x1=f"{at}", y0=0, y1=1, layer="below",
        line={"width": 1, "dash": dash, "color": GREY},
    )


def _half(at: date, way: int) -> str:
    """Half a day before or after a day's middle, which is where the day is drawn."""
    return f"{at - timedelta(days=1)} 12:00" if way < 0 else f"{at} 12:00"


def _events(found: Timeline, add: Add, fig: go.Figure, row: int) -> None:
    for kind, (word, symbol, colour) in VISITS.items():
        some = [visit for visit in found.visits if visit.kind == kind]
        if some:
            add(go.Scatter(
                x=[f"{visit.day}" for visit in some], y=[1] * len(some), mode="markers", name=f"Visit {word}",
                marker={"symbol": symbol, "size": 12, "color": colour, "line": {"width": 2}},
                customdata=[plain(f"{visit.name} with {visit.clinician}") for visit in some], meta=WORDS_ONLY,
                hovertemplate=f"%{{x|%a %-d %b}}: %{{customdata}}, {word}<extra></extra>",
            ))
    if found.revisions:
        add(go.Scatter(
            x=[f"{revision.day}" for revision in found.revisions], y=[0] * len(found.revisions), mode="markers+text",
            name="Revision", text=[str(revision.number) for revision in found.revisions],
            textfont={"color": INK, "size": 12}, marker={"symbol": "square", "size": 18, "color": YELLOW},
            customdata=[plain(_revision(revision)) for revision in found.revisions], meta=WORDS_ONLY,
            hovertemplate="%{x|%a %-d %b}: %{customdata}<extra></extra>",
        ))
    if found.pauses:
        add(go.Scatter(
            x=[f"{pause.first}" for pause in found.pauses], y=[0] * len(found.pauses), mode="text", text="//", name="Pause",
            textposition="middle right", customdata=[plain(_pause(pause)) for pause in found.pauses], meta=WORDS_ONLY,
            hovertemplate="%{customdata}<extra></extra>",
        ))
    fig.update_yaxes(range=[-0.7, 1.7], tickvals=[0, 1], ticktext=["Plan", "Visits"], showgrid=False, row=row, col=1)


def _revision(revision: Any) -> str:
    changes = counted(len(revision.changes), "change") if revision.changes else "the program begins"
    return f"revision {revision.number}, {changes}. {revision.reason}"


def _pause(pause: Any) -> str:
    until = "until further notice" if pause.open else f"to {day(pause.last)}"
    return f"Paused from {day(pause.first)} {until}. {pause.reason}"


def day_words(row: DayRow) -> str:
    """`7 of 6 to 12 minutes, 1 of 1 session`; `no log, 6 to 12 minutes asked for`."""
    if row.kind == "paused":
        return "paused"
    asked = _span(row.minimum, row.full)
    if row.kind == "rest":
        return MORE["rest"]
    if row.kind != "done":
        return f"{MORE[row.kind]}, {asked} asked for"
    if not row.asked:
        return f"{counted(_minutes_of(row.done), 'minute')} done although nothing was asked for"
    return f"{_minutes_of(row.done)} of {asked}, {row.sessions} of {counted(row.asked, 'session')}"


def _minutes_of(seconds: int) -> int:
    return max(1, round(seconds / 60)) if seconds else 0


def _span(least: int, most: int) -> str:
    low, high = _minutes_of(least), _minutes_of(most)
    return counted(high, "minute") if low == high else f"{low} to {high} minutes"


def _minutes(found: Timeline, add: Add, fig: go.Figure, row: int) -> None:
    asked = [each for each in found.days if each.asked and each.kind != "paused"]
    words = {each.day: day_words(each) for each in found.days}
    for name, colour, values in (
        ("Asked for at most", SKY, [each.full for each in asked]),
        ("Asked for at least", BLUE, [each.minimum for each in asked]),
    ):
        add(go.Bar(
            x=[f"{each.day}" for each in asked], y=[round(value / 60, 1) for value in values], name=name, width=DAY * 0.9,
            marker={"color": colour, "line": {"width": 0}}, customdata=[words[each.day] for each in asked],
            hovertemplate="%{x|%a %-d %b}: %{customdata}<extra></extra>",
        ))
    done = [each for each in found.days if each.kind == "done"]
    add(go.Bar(
        x=[f"{each.day}" for each in done], y=[round(each.done / 60, 1) for each in done], name="Done", width=DAY * 0.5,
        marker={"color": ORANGE, "line": {"width": 0}}, customdata=[words[each.day] for each in done],
        hovertemplate="%{x|%a %-d %b}: %{customdata}<extra></extra>",
    ))
    for kind, symbol, name in (("silent", "circle-open", "No log"), ("zero", "line-ew-open", "Logged as not done")):
        some = [each for each in found.days if each.kind == kind]
        if some:
            add(go.Scatter(
                x=[f"{each.day}" for each in some], y=[0] * len(some), mode="markers", name=name, cliponaxis=False,
                marker={"symbol": symbol, "size": 6, "color": VERMILLION, "line": {"width": 1.5}},
                customdata=[words[each.day] for each in some], hovertemplate="%{x|%a %-d %b}: %{customdata}<extra></extra>",
            ))
    fig.update_yaxes(rangemode="tozero", nticks=4, row=row, col=1)


def _answers(found: Timeline, add: Add, fig: go.Figure, row: int) -> None:
    for name, field, symbol, colour, dash, words in (
        ("Pain during", "pain", "circle", VERMILLION, "solid", "pain {} of 10 at its worst"),
        ("Pain next morning", "morning", "diamond", PURPLE, "dot", "pain {} of 10 the next morning"),
        ("Effort", "effort", "square-open", BLUE, "dash", "effort {} of 10"),
    ):
        known = [(each.day, getattr(each, field)) for each in found.days if getattr(each, field) is not None]
        if known:
            xs, ys = _linked(known)
            add(go.Scatter(
                x=xs, y=ys, mode="lines+markers", name=name, line={"color": colour, "width": 1.5, "dash": dash},
                marker={"symbol": symbol, "size": 6},
                hovertemplate=f"%{{x|%a %-d %b}}: {words.format('%{y}')}<extra></extra>",
            ))
    fig.update_yaxes(range=[-0.6, 10.6], tickvals=[0, 2, 5, 10], row=row, col=1)


def _linked(points: list[tuple[date, int]]) -> tuple[list[str | None], list[int | None]]:
    """The points with a break wherever nothing is known for more than LONGEST_LINK days."""
    xs: list[str | None] = []
    ys: list[int | None] = []
    before: date | None = None
    for at, value in points:
        if before and (at - before).days > LONGEST_LINK:
            xs.append(None)
            ys.append(None)
        xs.append(f"{at}")
        ys.append(value)
        before = at
    return xs, ys


def _levels(found: Timeline, add: Add, fig: go.Figure, row: int) -> None:
    """A lane an exercise, a length a level; the number stands where the level begins."""
    places = {lane: place for place, lane in enumerate(lanes(found.levels))}
    for level in sorted({run.level for run in found.levels}):
        runs = [run for run in found.levels if run.level == level]
        xs: list[str | None] = []
        ys: list[float | None] = []
        for run in runs:
            xs += [_half(run.first, -1), _half(run.last, 1), None]
            ys += [places[run.lane], places[run.lane], None]
        colour = LEVELS[(level - 1) % len(LEVELS)]
        add(go.Scatter(
            x=xs, y=ys, mode="lines", name=f"Level {level}", line={"color": colour, "width": 14}, hoverinfo="skip",
        ))
        add(go.Scatter(
            x=[_half(run.first, -1) for run in runs], y=[places[run.lane] for run in runs], mode="text", text=str(level),
            textposition="middle right", textfont={"color": INK, "size": 12}, name=f"Level {level}",
            customdata=[plain(f"{run.exercise}: level {run.level} of {run.levels} until {day(run.last)}") for run in runs],
            meta=WORDS_ONLY,
            hovertemplate="From %{x|%a %-d %b}, %{customdata}<extra></extra>",
        ))
    begun = {lane: runs[0] for lane, runs in lanes(found.levels).items()}
    add(go.Scatter(
        x=[_half(run.first, -1) for run in begun.values()], y=[place - 0.28 for place in range(len(begun))], mode="text",
        text=[plain(run.exercise) for run in begun.values()], textposition="top right", hoverinfo="skip", name="Exercise",
    ))
    fig.update_yaxes(range=[len(begun) - 0.4, -1.05], showticklabels=False, showgrid=False, row=row, col=1)


def _measure_of(line: MeasureLine) -> Draw:
    def draw(found: Timeline, add: Add, fig: go.Figure, row: int) -> None:
        points = [(at, value) for at, value in line.points if at >= found.first]
        ends = [f"{found.first}", f"{found.last}"]
        if line.error and points:
            low, high = line.error
            add(go.Scatter(
                x=[*ends, *reversed(ends)], y=[low, low, high, high], fill="toself", fillcolor="rgba(139,136,119,.28)",
                mode="none", name="Within measurement error (MDC) of the first value", hoverinfo="skip",
            ))
        if line.goal is not None and points:
            add(go.Scatter(
                x=ends, y=[line.goal] * 2, mode="lines", name="From here a gain that people notice (MCID)",
                line={"color": GREEN, "dash": "dash", "width": 2},
                hovertemplate="From %{y:.3~g} on a gain beyond the MCID<extra></extra>",
            ))
        unit = f" {plain(line.unit)}" if line.unit else ""
        add(go.Scatter(
            x=[f"{at}" for at, _ in points], y=[value for _, value in points], mode="lines+markers", name=plain(line.name),
            line={"color": BLUE, "width": 2}, marker={"size": 9},
            hovertemplate=f"%{{x|%a %-d %b}}: %{{y:.3~g}}{unit}<extra></extra>",
        ))
        fig.update_yaxes(nticks=4, row=row, col=1)

    return draw
