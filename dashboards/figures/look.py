"""Our own look of a figure. Text, grid and ground take the page's colours in the browser (static charts.js)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from html import escape

import plotly.graph_objects as go

# Okabe M, Ito K. Color Universal Design (jfly.uni-koeln.de/color, 2008): eight colours told apart without red and green
ORANGE, SKY, GREEN, YELLOW, BLUE, VERMILLION, PURPLE = (
    "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7",
)
GREY = "#8b8877"
INK = "#10181a"     # on any of the light ones, in either scheme
FONT = 'Inter, "Source Sans 3", "Segoe UI", system-ui, sans-serif'
LINE = 24          # pixels a line of a lying chart

LOOK = go.layout.Template(
    layout={
        "font": {"family": FONT, "size": 14},
        "paper_bgcolor": "rgba(0,0,0,0)", "plot_bgcolor": "rgba(0,0,0,0)",
        "margin": {"l": 8, "r": 8, "t": 8, "b": 8},
        "xaxis": {"automargin": True, "fixedrange": True, "zeroline": False, "ticks": ""},
        "yaxis": {"automargin": True, "fixedrange": True, "zeroline": False, "ticks": ""},
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.02, "yanchor": "bottom", "traceorder": "normal"},
        "hoverlabel": {"font": {"family": FONT, "size": 14}, "align": "left", "namelength": 0},
        "bargap": 0.3,
    }
)


def figure(title: str, *, height: int = 320) -> go.Figure:
    """An empty figure in the house's look. `title` states the finding; the page shows it as the chart's heading."""
    return go.Figure(layout={"template": LOOK, "title": {"text": title}, "height": height})


def dated(fig: go.Figure, days: Sequence[date], prefix: str = "") -> go.Figure:
    """The figure, with the dates that its columns' names stand for: its file writes them out (figures.cells)."""
    return fig.update_layout(meta={"days": {f"{prefix}{day(each)}": each.isoformat() for each in days}})


def nothing(title: str) -> go.Figure:
    """A figure that says that there is nothing to draw."""
    fig = figure(title, height=120)
    fig.update_xaxes(visible=False)
    fig.update_yaxes(visible=False)
    fig.add_annotation(text="Nothing to draw yet", showarrow=False, x=0.5, y=0.5, xref="paper", yref="paper")
    return fig


FEW = 10


def whole_ticks(fig: go.Figure) -> go.Figure:
    """The figure; an axis that counts up to FEW has a tick for each number, where fractions would all be written alike."""
    for name, values in (("xaxis", [trace.x for trace in fig.data]), ("yaxis", [trace.y for trace in fig.data])):
        if fig.layout[name].tickformat == "d" and sum(max(each, default=0) for each in values if each is not None) <= FEW:
            fig.layout[name].update(dtick=1)
    return fig


def plain(text: str) -> str:
    """Text of a person's making: what looks like mark-up is shown as it was written."""
    return escape(text, quote=False)


def pattern(shape: str) -> dict[str, object]:
    """A hatch over a bar, so that it is told apart without colour."""
    return {"shape": shape, "size": 9, "solidity": 0.15, "fgcolor": "rgba(0,0,0,.45)", "fillmode": "overlay"}


def bars(colour: str, hatch: str, numbers: Sequence[int]) -> dict[str, object]:
    """How a part of a stacked bar looks: its number inside, nothing where it is 0."""
    return {
        "marker": {"color": colour, "pattern": pattern(hatch)}, "text": [number or "" for number in numbers],
        "textposition": "inside", "insidetextanchor": "middle", "textangle": 0, "constraintext": "none",
        "insidetextfont": {"color": "#ffffff" if colour in {BLUE, GREY} else INK, "size": 15, "weight": 700},
    }


def counted(count: int, one: str, many: str = "") -> str:
    """`1 program`, `3 programs`."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def day(value: date) -> str:
    """`3 Mar`."""
    return f"{value.day} {value:%b}"
