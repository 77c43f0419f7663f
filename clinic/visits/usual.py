"""What is published about a measure at the client's age, in words. The tables are data: fixtures/norms.json."""

from __future__ import annotations

import json
from datetime import date
from functools import lru_cache

from django.conf import settings

from clinic.visits.models import Measure
from clinic.visits.rules import norms
from clinic.visits.rules.change import reliable_index
from clinic.visits.wording import MINUS, amount, number

WHO = {"female": "women", "male": "men", "any": "people"}


@lru_cache(maxsize=1)
def tables() -> tuple[norms.Norm, ...]:
    """The published norms, read once."""
    return norms.read(json.loads((settings.ROOT / "fixtures" / "norms.json").read_text(encoding="utf-8")))


def age_on(born: date, day: date) -> int:
    """Whole years; somebody born on 29 February is a year older from 1 March in other years."""
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def usual_words(measure: Measure, value: float, born: date | None, day: date) -> tuple[list[str], str]:
    """(sentences, source) about a value beside people of the same age, for each sex that has numbers: which of them fits
    is for the clinician to say. Empty without a birth date or a published table for that age."""
    cells = norms.norms_for(tables(), measure.code, age_on(born, day)) if born else ()
    return [_sentence(measure, cell, value) for cell in cells], cells[0].source if cells else ""


def _sentence(measure: Measure, cell: norms.Norm, value: float) -> str:
    who = f"{WHO[cell.sex].capitalize()} of {cell.age_from} to {cell.age_to}"
    parts = []
    if cell.low is not None and cell.high is not None:
        word = {"below_usual": "below", "usual": "within", "above_usual": "above"}[norms.standing(cell, value) or "usual"]
        between = f"{number(cell.low)} to {amount(measure, cell.high)}"
        parts.append(f"{word} the bands in use, {between}" if cell.bands else f"{word} the middle half, {between}")
        place = norms.percentile(cell, value)
        if place is not None:
            parts.append(f"roughly {_ordinal(place)} percentile")
    away = norms.from_mean(cell, value)
    if away is not None and cell.mean is not None:
        side = "at" if away == 0 else f"{amount(measure, abs(away))} {'above' if away > 0 else 'below'}"
        parts.append(f"{side} the mean of {amount(measure, cell.mean)}")
    low = norms.below_average(cell, value)
    if low is not None and cell.below is not None:
        parts.append(f"{'below' if low else 'not below'} the screening line of {amount(measure, cell.below)}")
    return f"{who}: {'; '.join(parts)}."


def _ordinal(place: int) -> str:
    last = {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{'th' if 10 <= place % 100 <= 20 else last}"


def reliable_words(measure: Measure, difference: float) -> str:
    """How the change stands to the error of measurement; empty without a bound and its confidence level."""
    if measure.mdc is None or measure.mdc_confidence not in {90, 95}:
        return ""
    index = reliable_index(difference, measure.mdc, measure.mdc_confidence)
    said = f"Reliable change index {f'{index:.1f}'.replace('-', MINUS)}"
    if abs(index) > 1.96:
        return f"{said}, beyond 1.96: more than measurement error alone gives in 19 of 20 cases."
    return f"{said}, not beyond 1.96: measurement error alone can give as much."


def sides_words(measure: Measure, left: float, right: float, percent: float | None) -> str:
    """How alike the newest values of both sides are."""
    gap = abs(left - right)
    parts = [] if percent is None else [f"The smaller side is {number(round(percent))} % of the larger one."]
    if percent is None:
        parts.append(f"The sides differ by {amount(measure, gap)}.")
    if measure.side_mdc is not None:
        size = "is" if gap >= measure.side_mdc else "is not"
        bound = amount(measure, measure.side_mdc)
        parts.append(f"The difference of {amount(measure, gap)} {size} beyond error, which ends at {bound}.")
    return " ".join(parts)
