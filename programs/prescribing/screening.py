"""What is known of a client's screening, in values and in words. The front desk sees none of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.conf import settings
from django.db.models import QuerySet

from clinic.people.models import Client, User
from clinic.people.queries import client_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from programs.prescribing.models import Program, Screening, ScreeningOverride
from programs.prescribing.rules.screening import Answers, Gate, gate
from programs.prescribing.vocab import HELP_TODAY, Disease, Intensity, ScreeningFlag, Sign

SENTENCES = {
    "not_asked": "This client has not been screened yet.",
    "too_old": "The last screening, of {day}, is more than {most} days old.",
    "red_flags": "Answers of {day} ask for a closer look before exercise: {words}.",
    "clear_first": "After the answers of {day} a doctor should clear this client before {intensity} exercise: {words}.",
    "stop_and_clear": (
        "After the answers of {day} this client should stop exercising until a doctor has cleared it: {words}."
    ),
    "open": "The answers of {day} put nothing in the way of {intensity} exercise.",
}
TODAY = " Get medical help today; do not wait for the next visit."
BUILD_UP = " Begin at light to moderate intensity and build up."
INTENSITY_WORDS = {Intensity.LIGHT_MODERATE: "light to moderate", Intensity.VIGOROUS: "vigorous"}


@dataclass(frozen=True)
class Standing:
    """A client's newest screening and what it says today."""

    gate: Gate
    screening: Screening | None

    @property
    def sentence(self) -> str:
        """What is missing, or why not, or that nothing is in the way; for a clinician."""
        row = self.screening
        if row is None:
            return SENTENCES["not_asked"]
        text = SENTENCES[self.gate.code].format(
            day=f"{row.day.day} {row.day:%B %Y}", most=settings.SCREENING_DAYS, words=_joined(row),
            intensity=INTENSITY_WORDS[Intensity(row.intensity)],
        )
        if self.gate.code == "red_flags" and HELP_TODAY & set(row.red_flags):
            return text + TODAY
        return text + BUILD_UP if self.gate.is_open and self.gate.advice == "build_up" else text


def client_of(user: User, public_id: UUID) -> Client:
    """The client whose screening a clinician or the lead may read; NotThere for everybody else."""
    if user.role not in (Role.CLINICIAN, Role.LEAD):
        raise NotThere
    return client_for(user, public_id)


def screenings_of(client: Client) -> QuerySet[Screening]:
    """Every screening, the newest first, with who asked."""
    return Screening.objects.filter(client=client).select_related("asked_by__staff").order_by("-day", "-pk")


def standing_of(client: Client, today: date) -> Standing:
    """What the newest screening up to `today` says; one query."""
    newest = screenings_of(client).filter(day__lte=today).first()
    return Standing(gate(answers_of(newest) if newest else None, today, settings.SCREENING_DAYS), newest)


def standing_for_change(program: Program, today: date) -> Standing | None:
    """What stands in the way of changing a program that runs: None when nothing does.

    It goes on without a screening or with an old one. An answer that speaks against exercise is asked about once.
    """
    standing = standing_of(program.client, today)
    if not standing.gate.speaks_against:
        return None
    decided = ScreeningOverride.objects.filter(program=program, screening=standing.screening, code=standing.gate.code)
    return None if decided.exists() else standing


def answers_of(row: Screening) -> Answers:
    """A screening as the rules take it."""
    return Answers(
        row.day, row.active, bool(row.diseases), bool(row.signs), bool(row.red_flags),
        row.intensity, row.cleared_on,   # type: ignore[arg-type]
    )


def overrides_of(program: Program) -> list[ScreeningOverride]:
    """Why this program was given or changed against its screening, oldest first."""
    return list(ScreeningOverride.objects.filter(program=program).select_related("by__staff").order_by("pk"))


def yes_words(row: Screening) -> list[str]:
    """What was answered with yes, in the words of the questions, the red flags first."""
    return [
        str(label)
        for codes, asked in ((row.red_flags, ScreeningFlag), (row.signs, Sign), (row.diseases, Disease))
        for code, label in asked.choices if code in codes
    ]


def _joined(row: Screening) -> str:
    return "; ".join(words[:1].lower() + words[1:] for words in yes_words(row)) or "nothing was answered with yes"
