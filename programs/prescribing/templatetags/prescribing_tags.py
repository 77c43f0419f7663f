"""Ribbon and words of a plan, for templates."""

from __future__ import annotations

from typing import Any

from django import template
from django.template.defaultfilters import floatformat
from django.utils.safestring import SafeString

from programs.library.rules.dose import Dose, dose_to_json
from programs.prescribing.rules.ribbon import RibbonDay, ribbon_svg
from programs.prescribing.vocab import PhaseKind, Weekday

register = template.Library()
TIME_WORDS = {"morning": "in the morning", "midday": "at midday", "evening": "in the evening"}


@register.simple_tag
def ribbon(days: list[RibbonDay], title: str, width: int = 220, height: int = 28, most: int | None = None) -> SafeString:
    """The dose ribbon. The picture escapes its title, which is the only text in it."""
    return SafeString(ribbon_svg(days, title=title, width=width, height=height, most=most))


@register.filter
def minutes(seconds: int) -> int:
    """Whole minutes, one at least."""
    return max(1, round(seconds / 60))


@register.filter
def span(pair: Any) -> str:
    """`3` or `3 to 5`."""
    low, high = pair if isinstance(pair, list | tuple) else (pair.minimum, pair.full)
    return str(low) if low == high else f"{low} to {high}"


@register.simple_tag
def minute_span(least: int, most: int) -> str:
    """`4 to 9 minutes` from seconds."""
    low, high = minutes(least), minutes(most)
    if low == high:
        return "1 minute" if low == 1 else f"{low} minutes"
    return f"{low} to {high} minutes"


@register.filter
def phase_name(kind: str) -> str:
    """The trade word of a phase's kind."""
    return PhaseKind(kind).label if kind in PhaseKind.values else kind


@register.filter
def named(slug: str, names: dict[str, str]) -> str:
    """The exercise's name; its slug when the library no longer holds it."""
    return names.get(slug, slug)


@register.filter
def as_json(dose: Dose) -> dict[str, Any]:
    """The stored form of a dose."""
    return dose_to_json(dose)


@register.simple_tag
def rough_time(seconds: int) -> str:
    """`45 seconds` or `6 minutes`; a half minute is told from a minute and a half on."""
    if seconds < 90:
        return f"{seconds} seconds"
    whole, half = divmod(round(seconds / 30), 2)
    return f"{whole}½ minutes" if half else f"{whole} minutes"


@register.filter
def counted(number: float, unit: str) -> str:
    """`2 sets`, `1 set`: the unit's first word without its last letter for one."""
    first, _, rest = unit.partition(" ")
    first = first.removesuffix("s") if number == 1 else first
    return f"{floatformat(number)} {first}{' ' if rest else ''}{rest}"


@register.filter
def weekday_words(codes: list[str]) -> str:
    """`Monday, Thursday`; `spread evenly` when no day is fixed."""
    return ", ".join(Weekday(code).label for code in codes) or "spread evenly"


@register.filter
def time_words(codes: list[str]) -> str:
    """`in the morning and in the evening`; `at any time` when none is named."""
    return " and ".join(TIME_WORDS[code] for code in codes) or "at any time"
