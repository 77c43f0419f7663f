"""Shares with their intervals, as words and as dots with a line through them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboards.figures.look import BLUE, GREY


def percent(share: float) -> str:
    """`6 %`, `0.4 %`: whole from one percent on."""
    return f"{100 * share:.1f} %" if 0 < share < 0.01 else f"{100 * share:.0f} %"


def dots(lines: Sequence[tuple[str, int, int, tuple[float, float]]]) -> dict[str, Any]:
    """What shares with their intervals look like, from (name, count, size, interval); size is never 0."""
    shares = [100 * count / size for _, count, size, _ in lines]
    return {
        "x": [round(share, 2) for share in shares], "y": [name for name, *_ in lines],
        "error_x": {
            "type": "data", "symmetric": False, "color": GREY, "thickness": 2, "width": 6,
            "array": [round(100 * interval[1] - share, 2) for share, (*_, interval) in zip(shares, lines, strict=True)],
            "arrayminus": [round(share - 100 * interval[0], 2) for share, (*_, interval) in zip(shares, lines, strict=True)],
        },
        "marker": {"size": 12, "color": BLUE}, "meta": ["Count", "Of", "95 % interval"],
        "customdata": [
            [count, size, f"{percent(interval[0])} to {percent(interval[1])}"] for _, count, size, interval in lines
        ],
    }
