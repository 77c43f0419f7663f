"""How days, phases and refusals are said to a client, in the language that is spoken now."""

from __future__ import annotations

from datetime import date

from django import forms
from django.utils.formats import date_format
from django.utils.translation import get_language, pgettext
from django.utils.translation import gettext as _

from clinic.people.refusal import Refusal

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
