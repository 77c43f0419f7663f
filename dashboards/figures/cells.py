"""The marks of a figure as rows of a table: what a chart draws is what its file says, for every chart by one rule."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

WORDS_ONLY = "words"     # meta of a trace whose height is a place and no number
Figure = Mapping[str, Any]
Row = dict[str, Any]


def cells_of(figure: Figure) -> tuple[list[str], list[list[Any]]]:
    """Header and rows of a figure's plain values: a row for each mark that says something when it is hovered.

    The columns are the series, what the mark stands for, its number, and, where marks have them, the ends of its interval and
    the numbers that a trace names in its `meta`. A mark that stands for having no number says its words instead.
    """
    rows = [row for trace in figure["data"] if trace.get("hoverinfo") != "skip" for row in _rows(trace, figure["layout"])]
    header = list(dict.fromkeys(name for row in rows for name in row))
    order = [*(name for name in header if name not in LAST), *(name for name in LAST if name in header)]
    return order, [[row.get(name) for name in order] for row in rows]


LAST = ("In words",)


def _rows(trace: Figure, layout: Figure) -> Iterator[Row]:
    if trace["type"] == "heatmap":
        yield from _grid(trace, layout)
        return
    across = trace.get("orientation") == "h" or "error_x" in trace
    names, values = (trace["y"], trace["x"]) if across else (trace["x"], trace["y"])
    marks = _on_a_grid(trace, layout) if "ticktext" in layout.get("xaxis", {}) else None
    for place, (name, value) in enumerate(zip(names, values, strict=True)):
        if name is None:
            continue
        row = {"Series": trace.get("name", "")}
        if marks:
            yield row | marks[place]
            continue
        row[_axis(layout, "y" if across else "x", "Name")] = _dated(name, layout)
        if trace.get("meta") != WORDS_ONLY:
            two_ways = layout.get("barmode") == "relative"    # lengths to the left are below nought
            row[_axis(layout, "x" if across else "y", "Number")] = abs(value) if two_ways else value
        yield row | _limits(trace, "error_x" if across else "error_y", place, value) | _more(trace, place)


def _axis(layout: Figure, which: str, otherwise: str) -> str:
    """The title of the figure's one axis; a figure of several parts has none."""
    return str(layout.get(f"{which}axis", {}).get("title", {}).get("text") or otherwise)


def _dated(name: Any, layout: Figure) -> Any:
    """A day as it is written in files where the figure's meta has it, the name itself otherwise."""
    return (layout.get("meta") or {}).get("days", {}).get(name, name)


def _limits(trace: Figure, key: str, place: int, value: float) -> Row:
    if key not in trace:
        return {}
    bar = trace[key]
    low, high = value - bar["arrayminus"][place], value + bar["array"][place]
    return {"Interval low": round(low, 2), "Interval high": round(high, 2)}


def _more(trace: Figure, place: int) -> Row:
    """What a mark says beside its number: named numbers, or a sentence."""
    held = trace.get("customdata")
    said = held[place] if held else None
    names = trace.get("meta")
    if isinstance(said, str):
        return {"In words": said}
    if not names or names == WORDS_ONLY or said is None:
        return {}
    return dict(zip(names, said, strict=True))


def _grid(trace: Figure, layout: Figure) -> Iterator[Row]:
    """The cells of a heat map that hold a number."""
    lines, columns = layout["yaxis"]["ticktext"], layout["xaxis"]["ticktext"]
    for line, cells in enumerate(trace["z"]):
        for column, value in enumerate(cells):
            if value is not None:
                held = trace.get("customdata")
                more = dict(zip(trace.get("meta") or (), held[line][column] if held else (), strict=True))
                named = {"Name": lines[line], "Day": _dated(columns[column], layout), "Number": value}
                yield {"Series": trace["name"], **named, **more}


def _on_a_grid(trace: Figure, layout: Figure) -> Sequence[Row]:
    """The signs of a heat map's cells without a number: their words stand in its place."""
    lines, columns = layout["yaxis"]["ticktext"], layout["xaxis"]["ticktext"]
    return [
        {"Name": lines[line], "Day": _dated(columns[column], layout), "In words": trace["name"]}
        for column, line in zip(trace["x"], trace["y"], strict=True)
    ]
