"""What people read about reassessments and measures: codes and numbers in, sentences out."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import translation
from django.utils.formats import date_format

from clinic.people.rules import zones
from clinic.visits.models import Measure
from clinic.visits.queries import ReassessmentRow, Series
from clinic.visits.rules.change import Change

MINUS = "\N{MINUS SIGN}"
ONE = {"points": "point", "stands": "stand", "times": "time"}


def day_words(day: date, language: str) -> str:
    """'Tuesday 3 March', 'martes 3 de marzo'; English for a language there is no wording for."""
    spanish = language.split("-")[0].lower() == "es"
    with translation.override("es" if spanish else "en-gb"):
        return date_format(day, r"l j \d\e F" if spanish else "l j F")


def short_day(day: date) -> str:
    """'3 Mar'."""
    return f"{day.day} {day:%b}"


def time_words(at: datetime, zone: str) -> str:
    """'Tue 3 Mar, 10:00' where the site is."""
    local = at.astimezone(zones.zone(zone))
    return f"{local:%a} {local.day} {local:%b}, {local:%H:%M}"


def length_words(minutes: int) -> str:
    """'45 min', '2 h', '2 h 15 min'."""
    hours, rest = divmod(minutes, 60)
    return " ".join(part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else "") if part)


def days_words(count: int) -> str:
    """'1 day', '3 days'."""
    return "1 day" if count == 1 else f"{count} days"


def state_words(row: ReassessmentRow, zone: str) -> tuple[str, str]:
    """(shape, words) of where a reassessment stands."""
    match row.state:
        case "overdue":
            return "low", f"overdue by {days_words(row.days)}"
        case "due":
            return "part", "due today" if row.days == 0 else f"due within {days_words(row.days)}"
        case "due_soon":
            return "wait", f"due soon, from {short_day(row.earliest)}"
        case "booked" if row.booked_for is not None:
            if row.unclosed:
                return "alert", f"visit of {time_words(row.booked_for, zone)} not closed"
            return "good", f"booked for {time_words(row.booked_for, zone)}"
        case "done":
            return "done", "done"
    return "silent", f"not yet, from {short_day(row.earliest)}"


def number(value: float) -> str:
    """At most two decimals, with a real minus."""
    return f"{value:.2f}".rstrip("0").rstrip(".").replace("-", MINUS) or "0"


def amount(measure: Measure, value: float) -> str:
    """A number with its unit: '4 points', '1 point', '35.56 %', '110°'."""
    gap = "" if measure.unit in {"", "°"} else "\N{NO-BREAK SPACE}"
    unit = ONE.get(measure.unit, measure.unit) if value == 1 else measure.unit
    return f"{number(value)}{gap}{unit}"


def bounds_words(measure: Measure) -> str:
    """What is known about the measure's error and about what matters, in a sentence."""
    if measure.mdc is None and measure.mcid is None:
        return "No published bounds are kept for this measure: judge the numbers yourself."
    parts = []
    if measure.mdc is not None:
        confidence = f" ({measure.mdc_confidence} % confidence)" if measure.mdc_confidence else ""
        parts.append(f"smallest change beyond measurement error (MDC) {amount(measure, measure.mdc)}{confidence}")
    if measure.mcid is not None:
        parts.append(f"smallest change that people notice (MCID) {amount(measure, measure.mcid)}")
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def change_words(series: Series, zone: str) -> tuple[str, str, str] | None:
    """(shape, word, sentence) about the newest value against the first; None with one value only."""
    change = series.change
    if change is None:
        return None
    first = series.points[0]
    way = "No difference" if change.difference == 0 else (
        f"{'Up' if change.difference > 0 else 'Down'} {amount(series.measure, abs(change.difference))}"
    )
    since = zones.day_in(first.at, zone)
    span = (
        f"{way} since {since.day} {since:%B %Y}: from {number(change.before)} to {amount(series.measure, change.after)}."
    )
    shape, word = _verdict(change)
    return shape, word, span


def _verdict(change: Change) -> tuple[str, str]:
    match change.code:
        case "improved_beyond_mcid":
            return "good", "improved beyond MCID"
        case "worse_beyond_mcid":
            return "low", "worse beyond MCID"
        case "changed_beyond_error":
            return ("good", "changed beyond error, better") if change.better else ("low", "changed beyond error, worse")
        case "no_detectable_change":
            return "part", "no detectable change"
    return "silent", "not judged"
