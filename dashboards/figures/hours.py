"""Hours used, lost and left, week by week; reassessments that come due against the places for them."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    SKY,
    VERMILLION,
    bars,
    counted,
    dated,
    day,
    figure,
    nothing,
)
from dashboards.read_models.practice_rows import HoursRow, LoadRow, by_week, load_by_week

# field of a row, word, colour, hatch
PARTS = (
    ("used", "Visits", GREEN, ""), ("missed", "No-shows", VERMILLION, "x"),
    ("stranded", "Gaps too short for any visit", ORANGE, "/"), ("free", "Left free", GREY, "."),
)


def hours_of(minutes: int) -> str:
    """`7 h 30`, `45 min`."""
    whole, rest = divmod(minutes, 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest:02}" if rest else f"{whole} h"


def used(rows: Sequence[HoursRow]) -> go.Figure:
    """A column a week, cut by what became of the open hours."""
    weeks = by_week(rows)
    if not sum(row.open for row in weeks.values()):
        return nothing("Nobody had working hours in these weeks")
    fig, most = dated(figure(used_title(rows), height=360), list(weeks)), max(row.open for row in weeks.values())
    for field, word, colour, hatch in PARTS:
        minutes = [getattr(row, field) for row in weeks.values()]
        if sum(minutes):
            # a number would not fit into a part below a twentieth of the week
            look = bars(colour, hatch, [round(each / 60) if each > most / 20 else 0 for each in minutes])
            fig.add_bar(
                x=[day(monday) for monday in weeks], y=[round(each / 60, 2) for each in minutes], name=word,
                customdata=[hours_of(each) for each in minutes],
                hovertemplate=f"Week of %{{x}}: %{{customdata}}, {word.lower()}<extra></extra>", **look,
            )
    fig.update_layout(barmode="stack")
    fig.update_xaxes(type="category", showgrid=False, tickangle=-45)
    fig.update_yaxes(title="Hours", rangemode="tozero")
    return fig


def used_title(rows: Sequence[HoursRow]) -> str:
    """The share of the open hours that visits took, and what gaps and no-shows cost."""
    whole = sum(row.open for row in rows)
    if not whole:
        return "Nobody had working hours in these weeks"
    taken, gaps, missed = (sum(getattr(row, field) for row in rows) for field in ("used", "stranded", "missed"))
    return (
        f"Visits took {round(100 * taken / whole)} % of the open hours; gaps too short for any visit cost {hours_of(gaps)}, "
        f"no-shows {hours_of(missed)}"
    )


def load(rows: Sequence[LoadRow]) -> go.Figure:
    """A column a week: reassessments due without a visit, beside the places that the free time still has."""
    weeks = load_by_week(rows)
    if not any(row.due or row.places for row in weeks.values()):
        return nothing("Nothing comes due, and nobody has working hours ahead")
    fig = dated(figure(load_title(rows), height=340), list(weeks))
    columns = [day(monday) for monday in weeks]
    for word, numbers, colour, hatch in (   # the table has the numbers: they would not fit into bars this narrow
        ("Reassessments due without a visit", [row.due for row in weeks.values()], ORANGE, "/"),
        ("Places for them in the free time", [row.places for row in weeks.values()], SKY, ""),
    ):
        fig.add_bar(
            x=columns, y=numbers, name=word,
            hovertemplate=f"Week of %{{x}}: %{{y}} {word[0].lower()}{word[1:]}<extra></extra>",
            **bars(colour, hatch, [0] * len(numbers)),
        )
    over = [row.over for row in weeks.values()]
    if sum(over):
        fig.add_scatter(
            x=columns, y=over, mode="lines+markers", name="Not fitting by then", line={"color": BLUE, "width": 2},
            marker={"symbol": "diamond", "size": 10},
            hovertemplate="By the end of the week of %{x}: %{y} do not fit<extra></extra>",
        )
    fig.update_layout(barmode="group")
    fig.update_xaxes(type="category", showgrid=False, tickangle=-45)
    fig.update_yaxes(title="Reassessments", rangemode="tozero")
    return fig


def load_title(rows: Sequence[LoadRow]) -> str:
    """Whether what comes due fits, and with how many clinicians it does not."""
    due = sum(row.due for row in rows)
    if not due:
        return "No reassessment comes due without a visit"
    most: dict[int, int] = {}
    for row in rows:
        most[row.key] = max(most.get(row.key, 0), row.over)
    crowded = [over for over in most.values() if over]
    verb = "comes" if due == 1 else "come"
    begin = f"{counted(due, 'reassessment')} {verb} due without a visit"
    if not crowded:
        return f"{begin}, and the free hours hold {'it' if due == 1 else 'them all'}"
    return f"{begin}; with {counted(len(crowded), 'clinician')} up to {max(crowded)} of them do not fit in time"
