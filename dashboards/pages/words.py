"""How the dashboards say codes and numbers."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from clinic.people.rules import zones
from clinic.visits.vocab import ReassessmentReason
from dashboards.read_models.caseload_rows import CaseloadRow
from programs.following.vocab import Band
from programs.prescribing.vocab import PhaseKind

BANDS = {
    Band.ON_TRACK: ("good", "On track"), Band.PARTLY: ("part", "Partly"), Band.LOW: ("low", "Low"),
    Band.SILENT: ("silent", "Silent"), Band.NEW: ("wait", "Too early to say"), Band.PAUSED: ("wait", "Paused"),
}
NO_PROGRAM = ("wait", "No home program")
FILTERS = {
    "all": "All", "person": "Needs a person", "silent": "Silent", "pain": "In pain", "suggestion": "Suggestion waiting",
    "notes": "Notes to read", "overdue": "Reassessment overdue",
}
SHOWN = {
    "all": "Everyone", "person": "Those who need a person", "silent": "Those who went silent", "pain": "Those in pain",
    "suggestion": "Those with a suggestion waiting", "notes": "Those who wrote a note that nobody has read",
    "overdue": "Those whose reassessment is overdue",
}
REASONS = {
    "red_flag": "A red-flag answer is open",
    "pain": "Pain {pain} of 10",
    "pain_rising": "Pain rises {points_a_week:.1f} points a week",
    "silent": "No log for {days}",
    "overdose": "{ratio:.1f} times the full dose in 7 days",
    "low": "{share:.0%} of what was asked in 7 days",
    "partly": "{share:.0%} of what was asked in 7 days",
    "look_overdue": "Reassessment overdue by {days}",
}
DASH = "–"


def percent(share: float | None) -> str:
    """`83 %`; a dash when nothing counts yet; never more than 100."""
    return DASH if share is None else f"{round(100 * min(1.0, share))} %"


def share_words(done: int, asked: int, low: float | None, high: float | None) -> str:
    """`12 of 14 sessions, 95 % interval 60 to 96 %`; a dash for 0 of 0."""
    if not asked:
        return DASH
    text = f"{done} of {asked} session{'' if asked == 1 else 's'}"
    if low is None or high is None:
        return text
    return f"{text}, 95 % interval {round(100 * low)} to {round(100 * high)} %"


def reason_words(reason: Mapping[str, Any]) -> str:
    """One reason of the attention order, in words."""
    numbers = {key: value for key, value in reason.items() if key != "code"}
    if "days" in numbers:
        numbers["days"] = days(int(numbers["days"]))
    return REASONS[str(reason["code"])].format(**numbers).replace("%", " %")


def slope_words(slope: float | None) -> str:
    """`rising 0.5 a week`, `falling 0.5 a week`, `steady`; empty when there are too few answers."""
    if slope is None:
        return ""
    if abs(slope) < 0.05:
        return "steady"
    return f"{'rising' if slope > 0 else 'falling'} {abs(slope):.1f} a week"


def day_words(day: date) -> str:
    """`Tue 3 Mar`."""
    return f"{day:%a} {day.day} {day:%b}"


def time_words(at: datetime, zone: str) -> str:
    """`Tue 3 Mar, 10:00` where the site is."""
    local = at.astimezone(zones.zone(zone))
    return f"{day_words(local.date())}, {local:%H:%M}"


def days(count: int) -> str:
    """`1 day`, `3 days`."""
    return "1 day" if count == 1 else f"{count} days"


def phase_words(row: CaseloadRow) -> str:
    """The phase of a program today."""
    if row.status == "on-hold":
        return "Paused"
    if row.standing is None or not row.standing.phase_kind:
        return f"Starts {day_words(row.starts)}" if row.starts else DASH
    return str(PhaseKind(row.standing.phase_kind).label)


def band_words(row: CaseloadRow) -> tuple[str, str]:
    """(shape, word) of how it goes at home."""
    if row.program_id is None:
        return NO_PROGRAM
    return BANDS[Band(row.standing.band)] if row.standing else BANDS[Band.NEW]


def look_words(row: CaseloadRow) -> tuple[str, str]:
    """(shape, words) of the next reassessment; empty when none is planned."""
    look = row.reassessment
    if look is None:
        return "", ""
    match look.state:
        case "overdue":
            return "low", f"Overdue by {days(look.days)}"
        case "due":
            return "part", "Due today" if look.days == 0 else f"Due by {day_words(look.due)}"
        case "booked" if look.booked_for is not None:
            shape = "alert" if look.unclosed else "good"
            return shape, f"{'Not closed:' if look.unclosed else 'Booked'} {time_words(look.booked_for, row.zone)}"
    return "wait", f"From {day_words(look.earliest)}"


def look_reason(row: CaseloadRow) -> str:
    """Why the next reassessment is planned."""
    return str(ReassessmentReason(row.reassessment.reason).label) if row.reassessment else ""


def ribbon_title(row: CaseloadRow) -> str:
    """What is read aloud instead of the ribbon: what was asked and done in the days shown."""
    past = [day for day in row.ribbon if day.state in {"session", "silent"} and day.done is not None]
    silent = sum(day.state == "silent" for day in row.ribbon)
    paused = sum(day.state == "paused" for day in row.ribbon)
    parts = [f"Four weeks back and two ahead: something logged on {days(sum(bool(day.done) for day in past))}"]
    if silent:
        parts.append(f"no log on {days(silent)}")
    if paused:
        parts.append(f"paused on {days(paused)}")
    return ", ".join(parts)
