"""Overdue reviews by clinician and age; reviews coming due by week."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import plotly.graph_objects as go

from dashboards.figures.look import (
    GREEN,
    ORANGE,
    PURPLE,
    SKY,
    VERMILLION,
    bars,
    counted,
    dated,
    day,
    figure,
    nothing,
    plain,
)
from dashboards.read_models.rows import AGES, Overdue, WeekDue

LOOKS = ((SKY, ""), (ORANGE, "/"), (VERMILLION, "x"), (PURPLE, "."))   # one for each age
MOST_BARS = 20    # clinicians a chart can be read with; the table below has all


def age_word(index: int) -> str:
    """`1 to 7 days`, `29 days or more`."""
    first, last = AGES[index]
    return f"{first} to {last} days" if last else f"{first} days or more"


def ageing(found: Overdue) -> go.Figure:
    """A bar a clinician, cut by how long the reviews are overdue; the longest bars, the others together."""
    if not found.by_clinician:
        return nothing("No review is overdue")
    return _bars(_gathered(found.by_clinician), ageing_title(found), {})


def by_reason(found: Overdue, words: Mapping[str, str]) -> go.Figure:
    """A bar a reason, cut by how long the reviews are overdue; `words` by reason."""
    if not found.by_reason:
        return nothing("No review is overdue")
    totals = _totals(found.by_reason)
    most = max(totals, key=lambda name: (totals[name], name))
    title = f"Most are overdue for: {words[most].lower()}, {totals[most]} of {sum(totals.values())}"
    return _bars(found.by_reason, title, words)


def _totals(counts: Counter[tuple[str, int]]) -> dict[str, int]:
    return {name: sum(counts[name, age] for age in range(len(AGES))) for name, _ in counts}


def _gathered(counts: Counter[tuple[str, int]]) -> Counter[tuple[str, int]]:
    """The MOST_BARS names with the most, the others as one."""
    totals = _totals(counts)
    kept = sorted(totals, key=lambda name: (-totals[name], name))[:MOST_BARS]
    others = f"{len(totals) - len(kept)} others"
    found: Counter[tuple[str, int]] = Counter()
    for (name, age), count in counts.items():
        found[name if name in kept else others, age] += count
    return found


def _bars(counts: Counter[tuple[str, int]], title: str, words: Mapping[str, str]) -> go.Figure:
    totals = _totals(counts)
    names = sorted(totals, key=lambda name: (-totals[name], name))
    fig = figure(title, height=110 + 44 * len(names))
    for age, (colour, hatch) in enumerate(LOOKS):
        numbers = [counts[name, age] for name in names]
        if sum(numbers):
            fig.add_bar(
                y=[plain(words.get(name, name)) for name in names], x=numbers, orientation="h", name=age_word(age),
                hovertemplate=f"%{{y}}: %{{x}} overdue for {age_word(age)}<extra></extra>", **bars(colour, hatch, numbers),
            )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Reviews", rangemode="tozero", tickformat="d")
    return fig


def ageing_title(found: Overdue) -> str:
    """How many, and how long the longest waits."""
    count = sum(found.by_clinician.values())
    verb = "is" if count == 1 else "are"
    return f"{counted(count, 'review')} {verb} overdue, the longest by {counted(found.longest, 'day')}"


def coming(weeks: Sequence[WeekDue]) -> go.Figure:
    """A column a week: due and booked, due and not booked yet."""
    if not sum(week.booked + week.unbooked for week in weeks):
        return nothing(f"Nothing comes due in the next {len(weeks)} weeks")
    fig = dated(figure(coming_title(weeks)), [week.monday for week in weeks], "From ")
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
