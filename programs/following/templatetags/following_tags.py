"""How figures of following are written."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def percent(share: float | None) -> str:
    """`83 %`, or a dash when nothing counts yet."""
    return "–" if share is None else f"{round(100 * share)} %"


@register.filter
def signed(number: float) -> str:
    """One decimal with its sign: `+0.5`, `−0.5`, `0.0`."""
    text = f"{abs(number):.1f}"
    if float(text) == 0:
        return text
    return f"+{text}" if number > 0 else f"−{text}"


@register.filter
def whole_minutes(seconds: int) -> int:
    """Minutes, rounded; 0 only for nothing at all."""
    return max(1, round(seconds / 60)) if seconds else 0
