"""What each kind of message looks like when it arrives, with invented values."""

from __future__ import annotations

from dataclasses import dataclass

from clinic.people.forms import LANGUAGES
from clinic.people.models import Site
from clinic.reminders.kinds import Kind
from clinic.reminders.letters import placed
from clinic.reminders.rules.wording import fill, one_line

# nobody; the words of a time come from the apps that send it, so these stand for them
EXAMPLES = {
    "en": {"first_name": "Robin", "day": "Tuesday 3 March", "time": "10:30", "counts": "3 visits today; 1 open alert"},
    "es": {"first_name": "Robin", "day": "martes, 3 de marzo", "time": "10:30"},
}


@dataclass(frozen=True)
class Sheet:
    """One kind in one language."""

    language: str      # BCP 47
    name: str          # of the language
    subject: str
    body: str


@dataclass(frozen=True)
class Preview:
    """One kind: its name, in each language it is worded in, and the rules it goes by."""

    label: str
    to_clients: bool
    waits_for_morning: bool
    again_after_break: bool
    sheets: tuple[Sheet, ...]


def preview_of(kind: Kind, site: Site | None) -> Preview:
    """The kind filled in as from `site`, in every language it has, English first."""
    names = dict(LANGUAGES)
    return Preview(
        label=kind.label, to_clients=kind.needs_consent, waits_for_morning=kind.respects_quiet_hours,
        again_after_break=kind.after_unknown == "resend",
        sheets=tuple(_sheet(kind, code, names.get(code, code), site) for code in sorted(kind.wordings)),
    )


def _sheet(kind: Kind, language: str, name: str, site: Site | None) -> Sheet:
    values = placed(EXAMPLES.get(language, EXAMPLES["en"]), site)
    wording = kind.wordings[language]
    return Sheet(language, name, one_line(fill(wording.subject, values)), fill(wording.body, values))
