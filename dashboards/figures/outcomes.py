"""What the last values of the measures say against the first ones: by measure, and by region of the body."""

from __future__ import annotations

from collections.abc import Mapping

import plotly.graph_objects as go

from dashboards.figures.look import (
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    SKY,
    VERMILLION,
    YELLOW,
    bars,
    counted,
    figure,
    nothing,
    plain,
)
from dashboards.figures.shares import dots, percent
from dashboards.read_models.outcome_rows import Outcomes, Tally, by_measure, by_region, total

# field of a tally, word, colour, hatch
PARTS = (
    ("improved", "Improved beyond the MCID", GREEN, ""), ("better", "Better beyond error", SKY, "-"),
    ("same", "No detectable change", YELLOW, "/"), ("worse", "Worse beyond error", VERMILLION, "x"),
    ("unjudged", "No published bounds", BLUE, "|"), ("waiting", "No second value yet", GREY, "."),
    ("missing", "Ended without a second value", ORANGE, "+"),
)


def measures(found: Outcomes) -> go.Figure:
    """A bar a measure, cut by what its comparisons say; what is missing has its own part."""
    tallies = by_measure(found.rows)
    if not tallies:
        return nothing("Nothing has been measured yet")
    fig = figure(measures_title(found), height=150 + 46 * len(tallies))
    for field, word, colour, hatch in PARTS:
        numbers = [getattr(tally, field) for tally in tallies.values()]
        if sum(numbers):
            fig.add_bar(
                y=[_short(name) for name in tallies], x=numbers, orientation="h", name=word,
                customdata=[plain(name) for name in tallies],
                hovertemplate=f"%{{customdata}}: %{{x}}, {word[0].lower()}{word[1:]}<extra></extra>",
                **bars(colour, hatch, numbers),
            )
    fig.update_layout(barmode="stack")
    fig.update_yaxes(autorange="reversed", type="category", showgrid=False)
    fig.update_xaxes(title="Comparisons", rangemode="tozero", tickformat="d")
    return fig


def measures_title(found: Outcomes) -> str:
    """How many comparisons show a gain beyond error, with the interval; and how many have no second value."""
    tally = total(found.rows)
    without = tally.waiting + tally.missing
    rest = f"; {without} of {counted(tally.whole, 'comparison')} have no second value" if without else ""
    if tally.interval is None:
        return f"Nothing can be compared yet{rest}"
    low, high = tally.interval
    return (
        f"{tally.gained} of {tally.judged} got better beyond measurement error "
        f"({percent(tally.gained / tally.judged)}, 95 % interval {100 * low:.0f} to {100 * high:.0f} %){rest}"
    )


def _short(name: str) -> str:
    return plain(name if len(name) <= 28 else f"{name[:27]}…")


def regions(found: Outcomes, words: Mapping[str, str]) -> go.Figure:
    """A line a region: the share that got better beyond error, with its interval, of those that can be judged."""
    tallies = {region: tally for region, tally in by_region(found.rows).items() if tally.judged}
    if not tallies:
        return nothing("Nothing can be compared by complaint yet")
    lines = [
        (f"{words[region]} ({tally.judged})", tally.gained, tally.judged, tally.interval)
        for region, tally in sorted(tallies.items(), key=lambda entry: -entry[1].judged) if tally.interval
    ]
    fig = figure(regions_title(tallies, words), height=92 + 46 * len(lines))
    fig.add_scatter(
        mode="markers", name="Better beyond error", **dots(lines),
        hovertemplate="%{y}: %{customdata[0]} of %{customdata[1]} got better beyond error, 95 % interval "
        "%{customdata[2]}<extra></extra>",
    )
    fig.update_yaxes(type="category", autorange="reversed", showgrid=False)
    fig.update_xaxes(title="Better beyond error, %", range=[-2, 102])
    return fig


def regions_title(tallies: Mapping[str, Tally], words: Mapping[str, str]) -> str:
    """The region with most to judge by; whether any differs from it is said only where intervals lie apart."""
    most = max(tallies, key=lambda region: (tallies[region].judged, region))
    base = tallies[most].interval
    apart = [
        words[region] for region, tally in tallies.items()
        if base and tally.interval and (tally.interval[1] < base[0] or tally.interval[0] > base[1])
    ]
    if len(tallies) == 1:
        return f"Only {words[most].lower()} has anything to compare"
    if not apart:
        return "No complaint can be told from the most frequent one by these numbers"
    if len(apart) > 3:
        return f"{len(apart)} of {len(tallies) - 1} other complaints differ from {words[most].lower()} beyond chance"
    verb, names = "differs" if len(apart) == 1 else "differ", ", ".join(apart).capitalize()
    return f"{names} {verb} from {words[most].lower()} beyond chance"
