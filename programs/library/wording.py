"""How a dose, a side and what is needed are said to a client, in the language that is spoken now.

The sentences are English here; the portal's catalogue holds them in other languages.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from programs.library.rules.dose import Continuous, Dose, Hold, Reps, Roll, Span

SIDES = {
    "both": lambda: _("Both sides together"), "each": lambda: _("First left, then right"),
    "alternating": lambda: _("Left and right in turn"), "left": lambda: _("Left side only"),
    "right": lambda: _("Right side only"),
}
EQUIPMENT = {
    "roller": lambda: _("foam roller"), "ball": lambda: _("small ball"), "strap": lambda: _("strap or towel"),
    "band": lambda: _("elastic band"), "step": lambda: _("step or stair"), "chair": lambda: _("firm chair"),
    "wall": lambda: _("wall"), "mat": lambda: _("mat"),
}   # "none" is nothing to say


def equipment_in_words(codes: Iterable[str]) -> str:
    """What is needed: 'foam roller, mat'; empty for nothing."""
    return ", ".join(EQUIPMENT[code]() for code in codes if code in EQUIPMENT)


def ends(span: Span | tuple[int, int]) -> tuple[int, int]:
    """Least and most."""
    return (span.minimum, span.full) if isinstance(span, Span) else span


def in_words(span: Span | tuple[int, int]) -> str:
    """A range in words: '2', or '1 to 2'."""
    least, most = ends(span)
    return str(most) if least == most else _("%(least)s to %(most)s") % {"least": least, "most": most}


def _holds(span: Span) -> str:
    return ngettext("%(number)s hold", "%(number)s holds", span.full) % {"number": in_words(span)}


def _sets(span: Span) -> str:
    return ngettext("%(number)s set", "%(number)s sets", span.full) % {"number": in_words(span)}


def _seconds(span: Span) -> str:
    return ngettext("%(number)s second", "%(number)s seconds", span.full) % {"number": in_words(span)}


def _minutes(span: Span) -> str:
    return ngettext("%(number)s minute", "%(number)s minutes", span.full) % {"number": in_words(span)}


def dose_in_words(dose: Dose) -> str:
    """'2 to 3 holds of 30 seconds'."""
    parts: dict[str, Any]
    match dose:
        case Hold():
            parts = {"holds": _holds(dose.holds), "seconds": _seconds(dose.seconds)}
            return _("%(holds)s of %(seconds)s") % parts
        case Reps():
            reps = ngettext("%(number)s repetition", "%(number)s repetitions", dose.reps.full)
            parts = {
                "sets": _sets(dose.sets), "reps": reps % {"number": in_words(dose.reps)},
                "seconds": _seconds(Span(dose.tempo, dose.tempo)),
            }
            return _("%(sets)s of %(reps)s, %(seconds)s each") % parts
        case Roll():
            parts = {
                "sets": _sets(dose.sets), "seconds": _seconds(dose.seconds),
                "stroke": _seconds(Span(dose.pass_seconds, dose.pass_seconds)),
            }
            return _("%(sets)s of %(seconds)s, %(stroke)s a stroke") % parts
        case Continuous():
            return _minutes(dose.minutes)


def rounds_in_words(span: Span | tuple[int, int]) -> str:
    """'2 rounds'."""
    return ngettext("%(number)s round", "%(number)s rounds", ends(span)[1]) % {"number": in_words(span)}
