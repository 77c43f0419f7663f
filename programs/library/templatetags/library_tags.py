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
from programs.library.vocab import DoseSide, Equipment

register = template.Library()


def _span(span: Span) -> str:
    return str(span.full) if span.minimum == span.full else f"{span.minimum} to {span.full}"


def _count(span: Span, one: str, many: str) -> str:
    return f"{_span(span)} {one if span.full == 1 else many}"


def _rest(seconds: int, between: str, span: Span) -> str:
    return f", {seconds} seconds of rest between {between}" if seconds and span.full > 1 else ""


@register.filter
def dose_words(dose: Dose | Mapping[str, Any]) -> str:
    """A dose in words: "2 to 3 holds of 30 seconds". Takes a dose or its JSON form."""
    dose = dose_from_json(dose) if isinstance(dose, Mapping) else dose
    match dose:
        case Hold():
            words = f"{_count(dose.holds, 'hold', 'holds')} of {_count(dose.seconds, 'second', 'seconds')}"
            return words + _rest(dose.rest, "holds", dose.holds)
        case Reps():
            words = f"{_count(dose.sets, 'set', 'sets')} of {_count(dose.reps, 'repetition', 'repetitions')}"
            return f"{words}, {dose.tempo} seconds each" + _rest(dose.rest, "sets", dose.sets)
        case Roll():
            words = f"{_count(dose.sets, 'set', 'sets')} of {_count(dose.seconds, 'second', 'seconds')}"
            return f"{words}, {dose.pass_seconds} seconds a stroke" + _rest(dose.rest, "sets", dose.sets)
        case Continuous():
            return _count(dose.minutes, "minute", "minutes")


@register.filter
def side_words(side: str) -> str:
    """"each side", "both sides together"."""
    return DoseSide(side).label


@register.filter
def equipment_words(codes: list[str]) -> str:
    """What is needed, as a list in words."""
    return ", ".join(Equipment(code).label for code in codes)


@lru_cache(maxsize=1024)
def _svg(drawing: str, side: str, title: str) -> str:
    return figure_svg(json.loads(drawing), side=side, title=title)


@register.simple_tag
def drawing(level: Level, side: str = "right") -> SafeString:
    """The figure of a level for one side; nothing when it has no drawing. "each" and "both" show the right side.

    The level's exercise should come along (select_related): its name is the title.
    """
    if not level.drawing:
        return mark_safe("")
    title = f"{level.exercise.name}: {level.name}"
    shown = "left" if side == "left" else "right"
    # figure_svg escapes the title; the rest is numbers and our own markup
    return mark_safe(_svg(json.dumps(level.drawing, sort_keys=True), shown, title))  # noqa: S308
