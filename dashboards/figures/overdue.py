"""Overdue reviews by clinician and age; reviews coming due by week."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboards.figures.look import (
    GREEN,
    ORANGE,
    PURPLE,
    SKY,
    VERMILLION,
    bars,
    counted,
    day,
    figure,
    nothing,
    plain,
)
from dashboards.read_models.rows import AGES, OverdueRow, WeekDue, by_age

LOOKS = ((SKY, ""), (ORANGE, "/"), (VERMILLION, "x"), (PURPLE, "."))   # one for each age


def age_word(index: int) -> str:
    """`1 to 7 days`, `29 days or more`."""
    first, last = AGES[index]
    return f"{first} to {last} days" if last else f"{first} days or more"


def ageing(rows: Sequence[OverdueRow]) -> go.Figure:
    """A bar a clinician, cut by how long the reviews are overdue."""
    if not rows:
        return nothing("No review is overdue")
    counts = by_age(rows)
    totals = {name: sum(counts[name, age] for age in range(len(AGES))) for name, _ in counts}
    people = sorted(totals, key=lambda name: (-totals[name], name))
    fig = figure(ageing_title(rows), height=110 + 44 * len(people))
    for age, (colour, hatch) in enumerate(LOOKS):
        numbers = [counts[name, age] for name in people]
        if sum(numbers):
            fig.add_bar(
                y=[plain(name) for name in people], x=numbers, orientation="h", name=age_word(age),
                hovertemplate=f"%{{y}}: %{{x}} overdue for {age_word(age)}<extra></extra>", **bars(colour, hatch, numbers),
            )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Reviews", rangemode="tozero", tickformat="d")
    return fig


def ageing_title(rows: Sequence[OverdueRow]) -> str:
    """How many, and how long the longest waits."""
    longest = max(row.days for row in rows)
    verb = "is" if len(rows) == 1 else "are"
    return f"{counted(len(rows), 'review')} {verb} overdue, the longest by {counted(longest, 'day')}"


def coming(weeks: Sequence[WeekDue]) -> go.Figure:
    """A column a week: due and booked, due and not booked yet."""
    if not sum(week.booked + week.unbooked for week in weeks):
        return nothing(f"Nothing comes due in the next {len(weeks)} weeks")
    fig = figure(coming_title(weeks))
    columns = [f"From {day(week.monday)}" for week in weeks]
    for word, numbers, colour, hatch in (
        ("booked", [week.booked for week in weeks], GREEN, ""),
        ("not booked yet", [week.unbooked for week in weeks], ORANGE, "/"),
    ):
        fig.add_bar(
            x=columns, y=numbers, name=word.capitalize(), hovertemplate=f"%{{x}}: %{{y}} due, {word}<extra></extra>",
            **bars(colour, hatch, numbers),
        )
    fig.update_layout(barmode="stack")
    fig.update_xaxes(type="category", showgrid=False)
    fig.update_yaxes(title="Reviews", rangemode="tozero", tickformat="d")
    return fig


def coming_title(weeks: Sequence[WeekDue]) -> str:
    """How many come due, and how many of those nobody has booked."""
    total = sum(week.booked + week.unbooked for week in weeks)
    unbooked = sum(week.unbooked for week in weeks)
    verb = "comes" if total == 1 else "come"
    return f"{counted(total, 'review')} {verb} due in {len(weeks)} weeks, {unbooked} not booked yet"
