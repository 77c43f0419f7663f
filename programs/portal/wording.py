"""How numbers, days and doses are said to a client, in the language that is spoken now."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.utils.formats import date_format
from django.utils.translation import get_language, ngettext, pgettext
from django.utils.translation import gettext as _

from clinic.people.refusal import Refusal
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
PHASES = {"kick_off": lambda: _("Kick-off"), "taper": lambda: _("Taper"), "maintenance": lambda: _("Maintenance")}

DEVICES = {
    "android": lambda: _("Android phone or tablet"), "apple": lambda: _("iPhone or iPad"), "computer": lambda: _("Computer"),
    "other": lambda: _("Another device"),
}


def equipment_in_words(codes: Iterable[str]) -> str:
    """What is needed: 'foam roller, mat'; empty for nothing."""
    return ", ".join(EQUIPMENT[code]() for code in codes if code in EQUIPMENT)


def day_in_words(day: date) -> str:
    """'Monday 2 March', 'lunes 2 de marzo'."""
    return date_format(day, pgettext("date format: Monday 2 March", "l j F"))


def day_and_month(day: date) -> str:
    """'2 March', '2 de marzo'."""
    return date_format(day, pgettext("date format: 2 March", "j F"))


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


def put_refusal(form: forms.Form, refusal: Refusal) -> None:
    """Show an action's sentences beside the fields they are about, the others above the form; what was typed stays."""
    for name, sentence in (refusal.fields or {"": refusal.sentence}).items():
        form.add_error(name if name in form.fields else None, _(sentence))


def spoken_refusal(refusal: Refusal) -> Refusal:
    """The same refusal with its sentence in the client's language, where the catalogue has it."""
    return Refusal(refusal.code, _(refusal.sentence), status=refusal.status)


def reason_in_words(code: str, sentence: str) -> str:
    """Why an entry was refused. English sentences come with their dates; other languages say what the code means."""
    if not sentence or (get_language() or "en").startswith("en"):
        return sentence
    known = {
        "clock_ahead": lambda: _("This day is still to come. Check the date on the phone."),
        "before_start": lambda: _("This day is before your program starts."),
        "after_end": lambda: _("This day is after your program ended."),
        "unknown_item": lambda: _("An exercise of this session is not part of your program."),
    }
    return known[code]() if code in known else _(sentence)
