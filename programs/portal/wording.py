"""How days, phases and refusals are said to a client, in the language that is spoken now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.dates import WEEKDAYS as WEEKDAY_NAMES
from django.utils.formats import date_format
from django.utils.translation import get_language, ngettext, pgettext
from django.utils.translation import gettext as _

from clinic.people.refusal import Refusal
from programs.prescribing.rules.plan import WEEKDAYS

TIMES = {
    "morning": lambda: _("in the morning"), "midday": lambda: _("at midday"), "evening": lambda: _("in the evening"),
}
PHASES = {"kick_off": lambda: _("Kick-off"), "taper": lambda: _("Taper"), "maintenance": lambda: _("Maintenance")}

DEVICES = {
    "android": lambda: _("Android phone or tablet"), "apple": lambda: _("iPhone or iPad"), "computer": lambda: _("Computer"),
    "other": lambda: _("Another device"),
}


def day_in_words(day: date) -> str:
    """'Monday 2 March', 'lunes 2 de marzo'."""
    return date_format(day, pgettext("date format: Monday 2 March", "l j F"))


def day_and_month(day: date) -> str:
    """'2 March', '2 de marzo'."""
    return date_format(day, pgettext("date format: 2 March", "j F"))


def whole_date(day: date) -> str:
    """'2 March 2026', '2 de marzo de 2026'."""
    return date_format(day, pgettext("date format: 2 March 2026", "j F Y"))


def listed(words: Sequence[str]) -> str:
    """'Monday, Wednesday and Friday'."""
    if len(words) < 2:
        return "".join(words)
    return _("%(first)s and %(last)s") % {"first": ", ".join(words[:-1]), "last": words[-1]}


def days_in_words(phase: Any) -> str:
    """How often a phase asks: 'every Monday and Thursday', 'every day', '3 days a week'."""
    if phase.days_per_week == 7:
        return _("every day")
    if phase.weekdays:
        return _("every %(days)s") % {"days": listed([str(WEEKDAY_NAMES[WEEKDAYS.index(code)]) for code in phase.weekdays])}
    return ngettext("one day a week", "%(number)s days a week", phase.days_per_week) % {"number": phase.days_per_week}


def times_in_words(codes: Sequence[str]) -> str:
    """'in the morning and in the evening'; empty when none is named."""
    return listed([TIMES[code]() for code in codes])


def way_in_words(beside: Any) -> str:
    """'Easier: Bent knee', 'Más fácil: Rodilla doblada'."""
    words = {"level": beside.words.name}
    return _("Easier: %(level)s") % words if beside.way == "easier" else _("Harder: %(level)s") % words


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
        "level_not_allowed": lambda: _("You cannot choose this level of the exercise."),
        "unknown_item": lambda: _("An exercise of this session is not part of your program."),
    }
    return known[code]() if code in known else _(sentence)
