"""Screening before a program is given: who should see a doctor first, and how hard they may begin.

Pre-participation recommendations of the American College of Sports Medicine: Riebe D et al. 2015, Med Sci Sports Exerc
47(11):2473-2479. `active` is at least 30 minutes of planned exercise of at least moderate intensity on at least 3 days a
week for the last 3 months; `disease` a known cardiovascular, metabolic or renal disease; `signs` anything that suggests one.

Nothing here diagnoses: a result says what is recommended before exercise, and a clinician decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, get_args

Intensity = Literal["light_moderate", "vigorous"]
# go: no clearance needed; build_up: none needed, begin at light to moderate and build up; clear_first: clearance before
# exercise of this intensity; stop_and_clear: stop what is done now until there is clearance
Advice = Literal["go", "build_up", "clear_first", "stop_and_clear"]
GateCode = Literal["open", "not_asked", "too_old", "red_flags", "clear_first", "stop_and_clear"]
INTENSITIES: tuple[Intensity, ...] = get_args(Intensity)
CLEARED_FOR = timedelta(days=365)   # a clearance counts for twelve months (Riebe 2015, from memory of the paper)

# (active, disease, signs) -> advice for light to moderate and for vigorous exercise
TABLE: dict[tuple[bool, bool, bool], tuple[Advice, Advice]] = {
    (False, False, False): ("go", "build_up"),
    (False, True, False): ("clear_first", "clear_first"),
    (False, False, True): ("clear_first", "clear_first"),
    (False, True, True): ("clear_first", "clear_first"),
    (True, False, False): ("go", "go"),
    (True, True, False): ("go", "clear_first"),
    (True, False, True): ("stop_and_clear", "stop_and_clear"),
    (True, True, True): ("stop_and_clear", "stop_and_clear"),
}


@dataclass(frozen=True, slots=True)
class Answers:
    """One screening: what was answered on `day`. `cleared_on`: when a doctor who knew of it allowed exercise, if one did."""

    day: date
    active: bool
    disease: bool
    signs: bool
    red_flags: bool
    intensity: Intensity = "light_moderate"
    cleared_on: date | None = None


@dataclass(frozen=True, slots=True)
class Gate:
    """Whether a program may be given on the newest screening. `day` is that screening's, None without one."""

    code: GateCode
    day: date | None = None
    advice: Advice = "go"

    @property
    def is_open(self) -> bool:
        """Nothing asks for a reason first."""
        return self.code == "open"

    @property
    def speaks_against(self) -> bool:
        """An answer itself asks for more before exercise: it is not merely missing or old."""
        return self.code in ("red_flags", "clear_first", "stop_and_clear")


def advice(*, active: bool, disease: bool, signs: bool, intensity: Intensity) -> Advice:
    """The cell of the table, without any clearance."""
    return TABLE[active, disease, signs][INTENSITIES.index(intensity)]


def advice_on(answers: Answers, today: date) -> Advice:
    """The cell of the table, a clearance of the last twelve months taken into account.

    With clearance exercise begins at light to moderate intensity and is built up; only who was active and free of signs
    goes on as before.
    """
    found = advice(active=answers.active, disease=answers.disease, signs=answers.signs, intensity=answers.intensity)
    cleared = answers.cleared_on is not None and today - answers.cleared_on <= CLEARED_FOR
    if not cleared or found in ("go", "build_up"):
        return found
    as_before = answers.active and not answers.signs
    return "go" if as_before or answers.intensity == "light_moderate" else "build_up"


def gate(answers: Answers | None, today: date, most_days: int) -> Gate:
    """What the newest screening says about giving a program on `today`; it counts for `most_days` days.

    A red flag outranks the table: whatever the intensity, somebody has to look first.
    """
    if answers is None:
        return Gate("not_asked")
    if (today - answers.day).days > most_days:
        return Gate("too_old", answers.day)
    found = advice_on(answers, today)
    if answers.red_flags:
        return Gate("red_flags", answers.day, found)
    if found == "clear_first" or found == "stop_and_clear":
        return Gate(found, answers.day, found)
    return Gate("open", answers.day, found)
