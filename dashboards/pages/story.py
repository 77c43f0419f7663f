"""One episode told in sentences: what stands beside the timeline, and what happened day by day in its table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from clinic.visits.wording import change_words
from dashboards.figures.timeline import VISITS, day_words, measure_name
from dashboards.pages.words import DASH, days, percent, share_words
from dashboards.read_models.timeline_rows import DayRow, LevelRun, RevisionRow, Timeline, lanes
from programs.prescribing.vocab import PhaseKind

DAY_KINDS = {
    "done": ("done", "Done"), "zero": ("low", "Logged as not done"), "silent": ("silent", "No log"),
    "waiting": ("wait", "No log yet"), "paused": ("wait", "Paused"), "rest": ("", "Nothing asked for"),
}
EVENT_SHAPES = {"kept": "good", "missed": "low", "cancelled": "done", "coming": "wait", "unclosed": "alert"}


@dataclass(frozen=True)
class Event:
    """Something that happened on a day; `revision` holds its changes, to be worded by their own template."""

    day: date
    what: str
    words: str
    revision: RevisionRow | None = None


def long_day(value: date) -> str:
    """`3 March 2026`."""
    return f"{value.day} {value:%B %Y}"


def sentences(found: Timeline, series: Sequence[Any], zone: str) -> list[str]:
    """The dose, the pain, the levels, the measures and the visits, each in a sentence; nothing about what is not there."""
    return [*_dose(found), *_pain(found), *_levels(found), *_measures(series, zone), *_visits(found)]


def _dose(found: Timeline) -> Iterator[str]:
    dose = found.dose
    if dose.asked:
        low, high = dose.interval or (None, None)
        yield f"{percent(dose.share)} of the dose was done: {share_words(dose.done, dose.asked, low, high)}."
    elif found.days:
        yield "No day counts yet."
    else:
        yield "No home program has begun."
    apart = [
        text for count, text in (
            (dose.silent, f"no log on {days(dose.silent)}"), (dose.zero, f"logged as not done on {days(dose.zero)}"),
            (dose.paused, f"paused on {days(dose.paused)}, which do not count"),
        ) if count
    ]
    if apart:
        text = "; ".join(apart)
        yield f"{text[0].upper()}{text[1:]}."


def _pain(found: Timeline) -> Iterator[str]:
    answers = sum(row.pain is not None for row in found.days)
    if found.pain:
        first, last = found.pain
        way = "as at first" if abs(last - first) < 0.05 else f"{'down' if last < first else 'up'} from {first:.1f}"
        yield f"Pain during the last three sessions with an answer: {last:.1f} of 10, {way}."
    elif answers:
        yield f"{answers} answer{'' if answers == 1 else 's'} about pain: too few to say which way it goes."


def _levels(found: Timeline) -> Iterator[str]:
    moved, stayed = [], 0
    for runs in lanes(found.levels).values():
        if runs[0].level == runs[-1].level:
            stayed += 1
        else:
            moved.append(f"{runs[-1].exercise} from level {runs[0].level} to {runs[-1].level}")
    if moved:
        rest = f"; {stayed} stayed at {'its' if stayed == 1 else 'their'} level" if stayed else ""
        yield f"{', '.join(moved)}{rest}."
    elif stayed:
        yield f"{stayed} exercise{'' if stayed == 1 else 's'}, each at the level it began with."


def _measures(series: Sequence[Any], zone: str) -> Iterator[str]:
    for row in series:
        said = change_words(row, zone)
        name = f"{row.measure.name}, {row.side}" if row.side in {"left", "right"} else row.measure.name
        yield f"{name}: {said[1]}. {said[2]}" if said else f"{name}: one value so far, nothing to compare it with."


def _visits(found: Timeline) -> Iterator[str]:
    counts = {kind: sum(visit.kind == kind for visit in found.visits) for kind in VISITS}
    past = [f"{counts[kind]} {VISITS[kind][0]}" for kind in ("kept", "missed", "cancelled", "unclosed") if counts[kind]]
    coming = next((visit.day for visit in found.visits if visit.kind == "coming"), None)
    if past:
        yield f"Visits: {', '.join(past)}{f'; the next on {long_day(coming)}' if coming else ', none to come'}."
    elif coming:
        yield f"The first visit is on {long_day(coming)}."


def events(found: Timeline) -> list[Event]:
    """Visits, revisions and pauses, the newest first."""
    rows = [
        Event(visit.day, f"Visit {VISITS[visit.kind][0]}", f"{visit.name} with {visit.clinician}") for visit in found.visits
    ]
    rows += [Event(row.day, f"Revision {row.number}", f"{row.reason} ({row.author})", row) for row in found.revisions]
    for pause in found.pauses:
        rows.append(Event(pause.first, "Pause begins", pause.reason))
        if not pause.open:
            rows.append(Event(pause.last, "Last day of the pause", pause.reason))
    return sorted(rows, key=lambda row: row.day, reverse=True)


def day_cells(row: DayRow) -> dict[str, Any]:
    """One day as the table says it."""
    shape, word = DAY_KINDS[row.kind]
    return {
        "row": row, "shape": shape, "word": word, "words": day_words(row),
        "phase": PhaseKind(row.phase).label if row.phase else DASH,
        "pain": _number(row.pain), "morning": _number(row.morning), "effort": _number(row.effort),
    }


def _number(value: int | None) -> str:
    return DASH if value is None else str(value)


def level_rows(found: Timeline) -> list[LevelRun]:
    """Runs, each exercise's own together."""
    return [run for runs in lanes(found.levels).values() for run in runs]


def measure_rows(found: Timeline) -> list[tuple[str, str, date, float]]:
    """(measure, unit, day, value), each measure's own oldest first."""
    return [(measure_name(line), line.unit, at, value) for line in found.measures for at, value in line.points]
