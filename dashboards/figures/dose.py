"""Share of the dose by minutes asked and by phase; exercises left out, and left against right."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboards.figures.adherence import PHASES
from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    LINE,
    ORANGE,
    PURPLE,
    SKY,
    VERMILLION,
    YELLOW,
    bars,
    counted,
    figure,
    nothing,
    plain,
)
from dashboards.read_models.dose_rows import ExerciseRow, MinuteBin, PhaseShare
from programs.following.rules.line import Line

REASONS = {"pain": "It hurt", "no_time": "No time", "forgot": "Forgot", "unwell": "Unwell", "no_equipment": "No equipment"}
LOOKS = ((VERMILLION, "x"), (SKY, ""), (YELLOW, "-"), (PURPLE, "."), (BLUE, "|"), (GREY, "/"))   # the last: no reason said
SHOWN = 15        # exercises a chart can be read with; the table below has all
STEP = 5          # minutes, the step the title speaks of


def bin_word(row: MinuteBin) -> str:
    """`under 10 min`, `10 to 14 min`, `30 min or more`."""
    if row.below is None:
        return f"{row.first} min or more"
    return f"{row.first} to {row.below - 1} min" if row.first else f"under {row.below} min"


def by_minutes(rows: Sequence[MinuteBin], line: Line | None) -> go.Figure:
    """A dot with its interval for each span of minutes that enough programs ask for."""
    known = [(row, row.mean, row.low, row.high) for row in rows if row.mean is not None]
    if not known:
        return nothing("Too few programs yet to compare short with long ones")
    fig = figure(minutes_title(line))
    means = [100 * mean for _, mean, _, _ in known]
    ups = [100 * ((high or 0) - mean) for _, mean, _, high in known]
    downs = [100 * (mean - (low or 0)) for _, mean, low, _ in known]
    fig.add_scatter(
        x=[bin_word(row) for row, *_ in known], y=means, mode="markers", name="Mean share of the dose",
        marker={"color": BLUE, "size": 13}, error_y={"array": ups, "arrayminus": downs, "color": BLUE, "thickness": 2},
        customdata=[
            [row.programs, round(100 * (low or 0)), round(100 * (high or 0))] for row, _, low, high in known
        ],
        meta=["Programs", "Limit low (%)", "Limit high (%)"],
        hovertemplate="%{x} a day: %{y:.0f} % of the dose, 95 % interval %{customdata[1]} to %{customdata[2]} %, "
        "%{customdata[0]} programs<extra></extra>",
    )
    fig.update_xaxes(type="category", showgrid=False, title="Asked for on a day with sessions")
    fig.update_yaxes(range=[0, 104], title="% of the dose", tickformat="d")
    return fig


def minutes_title(line: Line | None) -> str:
    """Which way the share goes with the minutes, when its interval says so."""
    if line is None:
        return "Too few programs yet to say whether asking more gets less"
    low, high = sorted((abs(100 * STEP * line.low), abs(100 * STEP * line.high)))
    if line.low <= 0 <= line.high:
        return "No difference found between asking less and asking more"
    way = "less" if line.slope < 0 else "more"
    return (
        f"{STEP} more minutes a day go with {abs(100 * STEP * line.slope):.1f} points {way} of the dose "
        f"(95 % interval {low:.1f} to {high:.1f})"
    )


def by_phase(rows: Sequence[PhaseShare]) -> go.Figure:
    """A bar a kind of phase, cut by how programs go in it; the interval is that of those on track."""
    if not rows:
        return nothing("No phase has gone on for long enough yet")
    fig = figure(phase_title(rows), height=130 + 48 * len(rows))
    names = [PHASES[row.kind] for row in rows]
    for word, colour, hatch, numbers in (
        ("on track", GREEN, "", [row.on_track for row in rows]), ("partly", ORANGE, "/", [row.partly for row in rows]),
        ("low", VERMILLION, "x", [row.under for row in rows]),
    ):
        fig.add_bar(
            y=names, x=numbers, orientation="h", name=word.capitalize(),
            hovertemplate=f"%{{y}}: %{{x}} programs {word}<extra></extra>", **bars(colour, hatch, numbers),
        )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Programs", rangemode="tozero", tickformat="d")
    return fig


def phase_title(rows: Sequence[PhaseShare]) -> str:
    """The phase in which the smallest share is on track, with its interval."""
    worst = min(rows, key=lambda row: row.on_track / row.programs)
    return (
        f"{PHASES[worst.kind]} goes worst: {worst.on_track} of {counted(worst.programs, 'program')} on track "
        f"(95 % interval {round(100 * worst.low)} to {round(100 * worst.high)} %)"
    )


def skipped(rows: Sequence[ExerciseRow]) -> go.Figure:
    """A bar an exercise, the most left out first, cut by the reason given; lengths are percent of its sessions."""
    shown = [row for row in rows if row.missed][:SHOWN]
    if not shown:
        return nothing("No exercise has been left out")
    fig = figure(skipped_title(shown), height=110 + (LINE + 8) * len(shown))
    parts = [*zip(REASONS.values(), zip(*(row.skipped for row in shown), strict=True), strict=True)]
    parts.append(("No reason said", tuple(row.unsaid for row in shown)))
    for (word, numbers), (colour, hatch) in zip(parts, LOOKS, strict=True):
        if sum(numbers):
            percents = [100 * number / row.sessions for number, row in zip(numbers, shown, strict=True)]
            look = bars(colour, hatch, [0] * len(shown))
            fig.add_bar(
                y=[plain(row.name) for row in shown], x=percents, orientation="h", name=word,
                customdata=[[number, row.sessions] for number, row in zip(numbers, shown, strict=True)],
                meta=["Left out", "Sessions"],
                hovertemplate=f"%{{y}}: left out in %{{customdata[0]}} of %{{customdata[1]}} sessions, {word.lower()}"
                "<extra></extra>", **look,
            )
    fig.update_layout(barmode="stack", showlegend=True)   # the reason is said even when there is but one
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="% of its sessions", rangemode="tozero", tickformat="d")
    return fig


def skipped_title(rows: Sequence[ExerciseRow]) -> str:
    """The exercise left out most, with its interval."""
    low, high = rows[0].limits
    return (
        f"{plain(rows[0].name)} is left out most: in {round(100 * rows[0].share)} % of its sessions "
        f"(95 % interval {round(100 * low)} to {round(100 * high)} %)"
    )


def sides(rows: Sequence[ExerciseRow]) -> go.Figure:
    """A bar an exercise to either side: runs in which the left, or the right, was done less."""
    shown = [row for row in rows if row.less_left or row.less_right][:SHOWN]
    if not shown:
        return nothing("Left and right are done alike")
    fig = figure(sides_title(rows), height=110 + (LINE + 8) * len(shown))
    for word, sign, numbers, colour, hatch in (
        ("Left done less", -1, [row.less_left for row in shown], BLUE, ""),
        ("Right done less", 1, [row.less_right for row in shown], ORANGE, "/"),
    ):
        fig.add_bar(
            y=[plain(row.name) for row in shown], x=[sign * number for number in numbers], orientation="h", name=word,
            customdata=[[number, row.sided] for number, row in zip(numbers, shown, strict=True)],
            meta=["Done less", "Of clients and levels"],
            hovertemplate=f"%{{y}}: {word.lower()} by %{{customdata[0]}} of %{{customdata[1]}}<extra></extra>",
            **bars(colour, hatch, numbers),
        )
    most = max(max(row.less_left, row.less_right) for row in shown)
    fig.update_layout(barmode="relative")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Clients and levels", range=[-most - 0.5, most + 0.5], showticklabels=False)
    return fig


def sides_title(rows: Sequence[ExerciseRow]) -> str:
    """How many runs are uneven, and which side is behind."""
    left, right = sum(row.less_left for row in rows), sum(row.less_right for row in rows)
    total = sum(row.sided for row in rows)
    behind = "evenly split" if left == right else f"the {'left' if left > right else 'right'} is behind in most"
    return f"One side is done less in {left + right} of {total}; {behind}"
