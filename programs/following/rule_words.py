"""What each threshold is called on a screen, and how its numbers are written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from programs.following.rules import ruleset
from programs.following.rules.ruleset import Threshold

GROUPS = {
    "bands": "How it goes", "pain": "Pain", "progress": "One step harder", "regress": "One step easier",
    "taper": "End of the kick-off", "contact": "Talk to the client", "rest": "After a decision",
}
LABELS = {
    "bands.on_track": "On track from",
    "bands.partly": "Partly from, low below",
    "bands.silent_kick_off": "Silent in the kick-off, after",
    "bands.silent_after": "Silent past the kick-off, after",
    "bands.new_days": "Too early to say before",
    "bands.overdose": "Too much above",
    "pain.safe_most": "Safe up to",
    "pain.acceptable_most": "Acceptable up to",
    "pain.morning_rise": "Raised the next morning from",
    "pain.progress_most": "Most pain that lets an exercise get harder",
    "pain.severe": "Severe from",
    "pain.ease_sessions": "Painful sessions in a row that stop a program",
    "pain.rising_weeks": "Weeks of rising pain that ask for a look",
    "pain.slope": "Rise that asks for a look",
    "progress.extra_reps": "Repetitions above the goal",
    "progress.sessions": "In how many sessions in a row",
    "progress.easy_sessions": "Rated too easy in a row",
    "regress.skips": "Left out for pain",
    "regress.skip_window": "Out of the last",
    "regress.hard_sessions": "Rated too hard in a row",
    "taper.adherence": "Done at least",
    "taper.least_days": "Not before day",
    "taper.window_days": "Looked at before its end",
    "contact.low_days": "Little done is only said after",
    "rest.days": "Not proposed again for",
}


@dataclass(frozen=True)
class ThresholdLine:
    """One threshold in words."""

    name: str
    group: str
    label: str
    value: str
    bounds: str
    unit: str
    source: str


def threshold_lines(data: Mapping[str, Any]) -> list[ThresholdLine]:
    """Every threshold of a stored rule set, group by group."""
    return [
        ThresholdLine(
            row.name, GROUPS[row.name.split(".")[0]], LABELS[row.name], said(row, row.value),
            f"{said(row, row.least)} to {said(row, row.most)}", unit(row), row.source,
        )
        for row in ruleset.thresholds(data)
    ]


def choices(data: Mapping[str, Any]) -> list[tuple[str, list[tuple[str, str]]]]:
    """The thresholds to choose from, group by group."""
    grouped: dict[str, list[tuple[str, str]]] = {}
    for line in threshold_lines(data):
        text = f"{line.label} ({line.value}{line.unit and ' ' + line.unit})"
        grouped.setdefault(line.group, []).append((line.name, text))
    return list(grouped.items())


def said(row: Threshold, value: float) -> str:
    """The number as people say it: shares in percent."""
    return f"{row.written(value):g} %" if row.unit == "share" else f"{value:g}"


def meant(data: Mapping[str, Any], name: str, written: float) -> float:
    """The number written for a threshold, as it is stored."""
    return next((row.meant(written) for row in ruleset.thresholds(data) if row.name == name), written)


def out_of_order(numbers: Mapping[str, float]) -> str:
    """Why these cannot stand together, in a sentence; empty when they can."""
    wrong = ruleset.out_of_order(numbers)
    return f"“{LABELS[wrong[0]]}” cannot be above “{LABELS[wrong[1]]}”." if wrong else ""


def unit(row: Threshold) -> str:
    """The unit after the number; a share has its percent sign."""
    return "" if row.unit == "share" else row.unit


def changes(before: Mapping[str, Any] | None, after: Mapping[str, Any]) -> list[str]:
    """What differs between two stored rule sets, in words; empty for the first."""
    if before is None:
        return []
    was = {row.name: row for row in ruleset.thresholds(before)}
    return [
        f"{GROUPS[row.name.split('.')[0]]}, {LABELS[row.name].lower()}: "
        f"{said(row, was[row.name].value)} became {said(row, row.value)} {unit(row)}".rstrip()
        for row in ruleset.thresholds(after) if row.value != was[row.name].value
    ]


def grouped(names: Iterable[str]) -> list[tuple[str, list[str]]]:
    """The names under their headings, in the order of the headings."""
    held = list(names)
    return [(title, [name for name in held if name.split(".")[0] == code]) for code, title in GROUPS.items()]
