"""Adherence: programs by week, and programs by phase and band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import pairwise

import plotly.graph_objects as go

from dashboards.figures.look import (
    GREEN,
    GREY,
    INK,
    LINE,
    ORANGE,
    SKY,
    VERMILLION,
    YELLOW,
    bars,
    counted,
    dated,
    day,
    figure,
    nothing,
    plain,
)
from dashboards.read_models.rows import BAND_ORDER, AdherenceRow

# what is not a share, as (kind, colour, sign in the cell, words)
STATES = (
    ("zero", "#f3c9b4", "0", "logged, nothing done"),
    ("silent", "#c9c4b6", "○", "no log"),
    ("paused", "#bcd3e6", "//", "paused"),
    ("nothing", "rgba(139,136,119,.10)", "·", "nothing asked for"),
)
BANDS = {
    "silent": ("Silent", GREY, "."), "low": ("Low", VERMILLION, "x"), "partly": ("Partly", ORANGE, "/"),
    "on_track": ("On track", GREEN, ""), "new": ("Too early to say", YELLOW, "-"), "paused": ("Paused", SKY, "|"),
}
PATTERNS = {
    "none": "Nothing done", "stopped": "Stopped: nothing in the last 7 days asked", "fading": "Doing less than before",
    "on_off": "On and off", "weekdays": "Weekdays rather than weekends", "weekends": "Weekends rather than weekdays",
    "rising": "Doing more than before", "steady": "Most days", "few": "Too few days to tell",
}
PHASES = {
    "not_begun": "Not begun", "kick_off": "Kick-off", "taper": "Taper", "maintenance": "Maintenance", "paused": "Paused",
}


def heat_map(
    rows: Sequence[AdherenceRow], mondays: Sequence[date], counts: Mapping[tuple[str, str], int], *, daily: bool = False
) -> go.Figure:
    """A line a program, a column a week (`daily`: a day); the number is the share of the dose. The title speaks of all, by
    (phase, band)."""
    if not rows:
        return nothing("No open program yet")
    fig = dated(figure(heat_title(counts), height=70 + LINE * len(rows)), mondays)
    fig.add_heatmap(
        z=[[_percent(cell.share) if cell.kind == "share" else None for cell in row.cells] for row in rows],
        customdata=[[[cell.done, cell.asked] if cell.kind == "share" else None for cell in row.cells] for row in rows],
        zmin=0, zmax=100, colorscale=[[0, "#eef5f9"], [1, SKY]], showscale=False, texttemplate="%{z}", hoverongaps=False,
        xgap=1, ygap=1, name="Share of the dose", textfont={"color": INK},
        meta=["Sessions done", "Sessions asked"],
        hovertemplate=f"%{{y}}<br>{'' if daily else 'Week of '}%{{x}}"
        "<br>%{z} % of the dose, %{customdata[0]} of %{customdata[1]} sessions"
        "<extra></extra>",
    )
    _add_states(fig, rows, "" if daily else "Week of ")
    _part(fig, rows)
    fig.update_layout(showlegend=False, margin={"r": 44})   # room for the last week's name and the camera
    fig.update_yaxes(
        range=[len(rows) - 0.5, -0.5], tickvals=list(range(len(rows))), ticktext=[_name(row) for row in rows], showgrid=False,
    )
    fig.update_xaxes(
        range=[-0.5, len(mondays) - 0.5], tickvals=list(range(len(mondays))), ticktext=[day(monday) for monday in mondays],
        side="top", showgrid=False, tickangle=-60, ticklabeloverflow="allow",
    )
    return fig


def _part(fig: go.Figure, rows: Sequence[AdherenceRow]) -> None:
    """A line between two groups: strong between bands, weak between patterns of one band."""
    for place, (above, below) in enumerate(pairwise(rows)):
        band = above.line.band != below.line.band
        if band or above.pattern != below.pattern:
            fig.add_shape(
                type="line", xref="paper", x0=0, x1=1, y0=place + 0.5, y1=place + 0.5,
                line={"color": GREY, "width": 3 if band else 1, "dash": "solid" if band else "dot"},
            )


def _add_states(fig: go.Figure, rows: Sequence[AdherenceRow], before: str) -> None:
    """The cells without a share: a ground of their own colour, and on it a sign that says its words when hovered."""
    codes = {kind: code for code, (kind, *_) in enumerate(STATES)}
    steps = [[(code + end) / len(STATES), colour] for code, (_, colour, *_) in enumerate(STATES) for end in (0, 1)]
    fig.add_heatmap(
        z=[[codes.get(cell.kind) for cell in row.cells] for row in rows], zmin=-0.5, zmax=len(STATES) - 0.5,
        colorscale=steps, showscale=False, xgap=1, ygap=1, hoverinfo="skip", name="ground",
    )
    for kind, _, sign, words in STATES:
        found = [(week, place) for place, row in enumerate(rows) for week, cell in enumerate(row.cells) if cell.kind == kind]
        if found:
            fig.add_scatter(
                x=[week for week, _ in found], y=[place for _, place in found], mode="text", text=sign, name=words,
                textfont={"color": GREY if kind == "nothing" else INK},
                hovertemplate=f"%{{y}}<br>{before}%{{x}}<br>{words}<extra></extra>",
            )


def heat_title(counts: Mapping[tuple[str, str], int]) -> str:
    """How many are on track now, and how many are silent."""
    good, silent = (sum(number for (_, held), number in counts.items() if held == band) for band in ("on_track", "silent"))
    return f"{good} of {counted(sum(counts.values()), 'program')} on track, {silent or 'none'} silent"


def _percent(share: float | None) -> int | None:
    return None if share is None else round(100 * min(1.0, share))


def _name(row: AdherenceRow) -> str:
    return plain(f"{_short(row.line.client)} · {_short(row.line.title)}")


def _short(text: str) -> str:
    return text if len(text) <= 22 else f"{text[:21]}…"


def phase_chart(counts: Mapping[tuple[str, str], int]) -> go.Figure:
    """A bar a phase, cut by band; the numbers are programs."""
    if not sum(counts.values()):
        return nothing("No open program yet")
    phases = [phase for phase in PHASES if any(counts.get((phase, band), 0) for band in BANDS)]
    fig = figure(phase_title(counts), height=110 + 44 * len(phases))
    for band in BAND_ORDER:
        word, colour, hatch = BANDS[band]
        numbers = [counts.get((phase, band), 0) for phase in phases]
        if sum(numbers):
            fig.add_bar(
                y=[PHASES[phase] for phase in phases], x=numbers, orientation="h", name=word,
                hovertemplate=f"%{{y}}: %{{x}} {word.lower()}<extra></extra>", **bars(colour, hatch, numbers),
            )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Programs", rangemode="tozero", tickformat="d")
    return fig


def phase_title(counts: Mapping[tuple[str, str], int]) -> str:
    """The phase with the most programs that are silent or low."""
    bad = {phase: counts.get((phase, "silent"), 0) + counts.get((phase, "low"), 0) for phase in PHASES}
    worst = max(bad, key=lambda phase: bad[phase])
    if not bad[worst]:
        return "Nobody is silent or low in any phase"
    in_phase = sum(number for (phase, _), number in counts.items() if phase == worst)
    return f"Most silent or low in {PHASES[worst].lower()}: {bad[worst]} of {counted(in_phase, 'program')}"
