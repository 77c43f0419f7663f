"""Doses in words, and drawings."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe

from programs.library.models import Level
from programs.library.rules.dose import Continuous, Dose, Hold, Reps, Roll, Span, dose_from_json
from programs.library.rules.figure import figure_svg
from programs.library.rules.moving import moving_svg
from programs.library.vocab import DoseSide, Equipment

register = template.Library()


def _span(span: Span) -> str:
    return str(span.full) if span.minimum == span.full else f"{span.minimum} to {span.full}"


def _count(span: Span, one: str, many: str) -> str:
    return f"{_span(span)} {one if span.full == 1 else many}"


@register.filter
def dose_words(dose: Dose | Mapping[str, Any]) -> str:
    """A dose in words: "2 to 3 holds of 30 seconds". Takes a dose or its JSON form."""
    dose = dose_from_json(dose) if isinstance(dose, Mapping) else dose
    match dose:
        case Hold():
            return f"{_count(dose.holds, 'hold', 'holds')} of {_count(dose.seconds, 'second', 'seconds')}"
        case Reps():
            words = f"{_count(dose.sets, 'set', 'sets')} of {_count(dose.reps, 'repetition', 'repetitions')}"
            return f"{words}, {_count(Span(dose.tempo, dose.tempo), 'second', 'seconds')} each"
        case Roll():
            words = f"{_count(dose.sets, 'set', 'sets')} of {_count(dose.seconds, 'second', 'seconds')}"
            return f"{words}, {_count(Span(dose.pass_seconds, dose.pass_seconds), 'second', 'seconds')} a stroke"
        case Continuous():
            return _count(dose.minutes, "minute", "minutes")


@register.filter
def rest_words(dose: Dose | Mapping[str, Any]) -> str:
    """The rest between sets or holds in words: "5 seconds of rest between holds"; empty when there is none."""
    dose = dose_from_json(dose) if isinstance(dose, Mapping) else dose
    if isinstance(dose, Continuous) or not dose.rest:
        return ""
    count, between = (dose.holds, "holds") if isinstance(dose, Hold) else (dose.sets, "sets")
    return f"{_count(Span(dose.rest, dose.rest), 'second', 'seconds')} of rest between {between}" if count.full > 1 else ""


@register.filter
def side_words(side: str) -> str:
    """"each side", "both sides together"."""
    return DoseSide(side).label


@register.filter
def equipment_words(codes: list[str]) -> str:
    """What is needed, as a list in words."""
    return ", ".join(Equipment(code).label for code in codes)


@lru_cache(maxsize=1024)
def _svg(drawing: str, side: str, title: str, moving: bool = False) -> str:
    return (moving_svg if moving else figure_svg)(json.loads(drawing), side=side, title=title)


def _drawn(level: Level, side: str, title: str, *, moving: bool = False) -> SafeString:
    if not level.drawing:
        return mark_safe("")
    title = title or f"{level.exercise.name}: {level.name}"
    shown = "left" if side == "left" else "right"
    # figure_svg escapes the title; the rest is numbers and our own markup
    return mark_safe(_svg(json.dumps(level.drawing, sort_keys=True), shown, title, moving))  # noqa: S308


@register.simple_tag
def drawing(level: Level, side: str = "right", title: str = "") -> SafeString:
    """The figure of a level for one side; nothing when it has no drawing. "each" and "both" show the right side.

    Without a `title` it is called by the English names; the level's exercise should then come along (select_related).
    """
    return _drawn(level, side, title)


@register.inclusion_tag("library/moving.html")
def moving_drawing(level: Level, side: str = "right", play: str = "auto", title: str = "") -> dict[str, Any]:
    """The same figure, which library/moving.js moves from start to end and back, with a button that stops it.

    `play` "auto" starts by itself unless less motion is asked for; "ask" waits for the button. The page loads
    library/library.css and library/moving.js; without the script the still drawing is shown.
    """
    title = title or f"{level.exercise.name}: {level.name}"
    return {"figure": _drawn(level, side, title, moving=True), "play": play, "title": title}
