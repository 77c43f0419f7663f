"""Adherence: programs by week, and programs by phase and band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import plotly.graph_objects as go

from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    LINE,
    ORANGE,
    SKY,
    VERMILLION,
    YELLOW,
    counted,
    day,
    figure,
    nothing,
    pattern,
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
PHASES = {
    "not_begun": "Not begun", "kick_off": "Kick-off", "taper": "Taper", "maintenance": "Maintenance", "paused": "Paused",
}


def heat_map(rows: Sequence[AdherenceRow], mondays: Sequence[date]) -> go.Figure:
    """A line a program, a column a week; the number is the share of the dose. The newest full week makes the title."""
    if not rows:
        return nothing("No open program yet")
    fig = figure(heat_title(rows), height=70 + LINE * len(rows))
    names, columns = _names(rows), [day(monday) for monday in mondays]
    fig.add_heatmap(
        x=columns, y=names,
        z=[[_percent(cell.share) if cell.kind == "share" else None for cell in row.cells] for row in rows],
        customdata=[[[cell.done, cell.asked] if cell.kind == "share" else None for cell in row.cells] for row in rows],
        zmin=0, zmax=100, colorscale=[[0, "#e7f0f5"], [1, BLUE]], showscale=False, texttemplate="%{z}", hoverongaps=False,
        xgap=1, ygap=1, name="Share of the dose",
        hovertemplate="%{y}<br>Week of %{x}<br>%{z} % of the dose, %{customdata[0]} of %{customdata[1]} sessions",
    )
    for kind, colour, sign, words in STATES:
        if any(cell.kind == kind for row in rows for cell in row.cells):
            fig.add_heatmap(
                x=columns, y=names, z=[[1 if cell.kind == kind else None for cell in row.cells] for row in rows],
                colorscale=[[0, colour], [1, colour]], showscale=False, texttemplate=sign, hoverongaps=False, xgap=1,
                ygap=1, name=words, hovertemplate=f"%{{y}}<br>Week of %{{x}}<br>{words}",
            )
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(type="category", side="top", showgrid=False, tickangle=-60)
    return fig


def heat_title(rows: Sequence[AdherenceRow]) -> str:
    """How many of these are on track now."""
    good = sum(row.line.band == "on_track" for row in rows)
    silent = sum(row.line.band == "silent" for row in rows)
    told = f"{good} of {counted(len(rows), 'program')} on track"
    return f"{told}, {silent} silent" if silent else f"{told}, none silent"


def _percent(share: float | None) -> int | None:
    return None if share is None else round(100 * min(1.0, share))


def _names(rows: Sequence[AdherenceRow]) -> list[str]:
    """`Ada Quill · Hip`, each different: two of one name would fall into one line."""
    seen: dict[str, int] = {}
    names = []
    for row in rows:
        name = plain(f"{_short(row.line.client)} · {_short(row.line.title)}")
        seen[name] = seen.get(name, 0) + 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


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
                y=[PHASES[phase] for phase in phases], x=numbers, orientation="h", name=word, text=[n or "" for n in numbers],
                marker={"color": colour, "pattern": pattern(hatch)}, textposition="inside", textangle=0, constraintext="none",
                hovertemplate=f"%{{y}}: %{{x}} {word.lower()}",
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
