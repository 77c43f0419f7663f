"""How proposals, evidence and logs are said on a screen and in the API."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from programs.following.vocab import Band, SuggestionKind

SHAPES = {
    SuggestionKind.PAUSE_AND_REFER: "alert", SuggestionKind.CONTACT: "silent", SuggestionKind.REASSESS: "wait",
    SuggestionKind.REGRESS: "low", SuggestionKind.PROGRESS: "good", SuggestionKind.TAPER: "done",
    SuggestionKind.EXTEND_KICK_OFF: "part",
}
BANDS = {
    Band.ON_TRACK: ("good", "On track"), Band.PARTLY: ("part", "Partly"), Band.LOW: ("low", "Low"),
    Band.SILENT: ("silent", "Silent"), Band.NEW: ("wait", "Too early to say"), Band.PAUSED: ("wait", "Paused"),
}
# one sentence of proposal per kind; {item} is the exercise, {change} what would differ
PROPOSALS = {
    SuggestionKind.PROGRESS: "{item}: one step harder",
    SuggestionKind.REGRESS: "{item}: one step easier",
    SuggestionKind.TAPER: "Begin the taper",
    SuggestionKind.EXTEND_KICK_OFF: "Give the kick-off {days} more days",
    SuggestionKind.CONTACT: "Talk to the client",
    SuggestionKind.REASSESS: "Look at the measures again",
    SuggestionKind.PAUSE_AND_REFER: "Pause the program and refer",
}
AMOUNTS = {
    "hold": ("seconds", "seconds a hold"), "reps": ("reps", "repetitions"), "roll": ("seconds", "seconds of rolling"),
    "continuous": ("minutes", "minutes"),
}
PHASES = {"kick_off": "Kick-off", "taper": "Taper", "maintenance": "Maintenance"}
NEXT_PHASES = {"taper": "Go on to the next taper step", "maintenance": "Go on to maintenance"}
# rule -> (what was seen, what it is held against)
RULES: dict[str, tuple[str, str]] = {
    "two_for_two": (
        "{reps} repetitions in the last set, the goal was {goal}",
        "{extra_reps} above the goal in {sessions} sessions in a row",
    ),
    "too_easy": ("Rated too easy {sessions} times in a row, all of it done", "{sessions} times in a row"),
    "too_hard": ("Rated too hard {sessions} times in a row", "{sessions} times in a row"),
    "pain_above_limit": ("Pain {pain} of 10, and the answers point at this exercise", "At most {pain} of 10"),
    "pain_next_morning": ("Pain {rise} points higher the next morning", "Less than {rise} points"),
    "skipped_for_pain": ("Left out because it hurt in {sessions} of {of} sessions", "{sessions} of {of} sessions"),
    "pain_unplaced": ("Pain {pain} in the newest session; no answer says which exercise", "At most {pain} of 10"),
    "nothing_easier": ("{items} should get easier and cannot", "An easier step is there"),
    "silent": ("No log received for {days} days, since {since}", "{days} days"),
    "overdose": ("{ratio} times the full dose in seven days", "At most {ratio} times"),
    "little_done": ("{share:%} of what was asked in seven days", "At least {share:%}"),
    "pain_rising_weekly": ("Mean pain by week: {means}", "Not higher {rises} weeks in a row"),
    "pain_slope": (
        "Pain rises {points_a_week} points a week (95 % interval {low} to {high})", "Below {points_a_week} a week",
    ),
    "red_flag": ("A red-flag answer is open", "None open"),
    "pain_severe": ("Pain {pain} of 10 in the newest session", "Below {pain} of 10"),
    "pain_keeps_on": ("Too much pain in {sessions} sessions in a row", "Fewer than {sessions}"),
    "kick_off_done": (
        "{share:%} done in the last seven days, on day {days} of the kick-off, pain not in the way",
        "{share:%} after {days} days",
    ),
    "taper_step_done": ("{share:%} done in {days} days of this step, pain not in the way", "{share:%} after {days} days"),
    "kick_off_not_yet": (
        "{share:%} done in the last seven days, on day {days} of the kick-off{pain}",
        "{share:%} by day {days}, pain not in the way",
    ),
}


@dataclass(frozen=True)
class Choice:
    """What can be chosen instead of what is suggested, filled in with what is. `levels` and `unit` of an exercise only."""

    levels: list[tuple[int, str]]
    level: int | None
    least: int | None
    full: int | None
    unit: str
    days: int | None
    day_label: str


@dataclass(frozen=True)
class SuggestionLine:
    """One suggestion as the list shows it."""

    public_id: UUID
    client: str
    client_id: UUID
    program_id: UUID
    program: str
    shape: str
    kind: str
    proposal: str
    change: str
    seen: str
    held_against: str
    source: str
    days: list[date]
    made: datetime
    state: str
    choice: Choice | None


def suggestion_line(row: Any, names: Mapping[UUID, str], levels: Mapping[str, Sequence[Any]]) -> SuggestionLine:
    """The suggestion in words; `row` comes with program and client loaded, `names` says what each item is called, `levels`
    holds the library's levels of each exercise."""
    seen, held_against = evidence_words(row.evidence)
    kind = SuggestionKind(row.kind)
    days = sorted({date.fromisoformat(log["day"]) for log in row.evidence["logs"]})
    return SuggestionLine(
        row.public_id, row.program.client.name, row.program.client.public_id, row.program.public_id, row.program.title,
        SHAPES.get(kind, "wait"), kind.label, proposal_words(row, names), change_words(row.evidence["change"]), seen,
        held_against, row.evidence["source"], days, row.made, row.get_state_display(),
        _choice(kind, row.evidence["change"], levels),
    )


def _choice(kind: SuggestionKind, change: Mapping[str, Any], levels: Mapping[str, Sequence[Any]]) -> Choice | None:
    if "dose_to" in change:
        name, unit = AMOUNTS[change["dose_to"]["type"]]
        least, full = change["dose_to"][name]
        rungs = [(level.number, level.name) for level in levels.get(change["exercise"], ())]
        return Choice(rungs, change["level_to"], least, full, unit, None, "From (tomorrow if empty)")
    if kind == SuggestionKind.EXTEND_KICK_OFF:
        return Choice([], None, None, None, "", change["days"], "From (tomorrow if empty)")
    if kind == SuggestionKind.TAPER:
        return Choice([], None, None, None, "", None, "Begin on")
    if kind == SuggestionKind.REASSESS:
        return Choice([], None, None, None, "", None, "Due on")
    return None


def proposal_words(row: Any, names: Mapping[UUID, str]) -> str:
    """What is proposed, in one short sentence."""
    item = names.get(row.item_key, "An exercise") if row.item_key else ""
    if "phase_kind" in row.evidence["change"]:
        return NEXT_PHASES[row.evidence["change"]["phase_kind"]]
    return PROPOSALS[SuggestionKind(row.kind)].format(item=item, days=row.evidence["change"].get("days", ""))


def change_words(change: Mapping[str, Any]) -> str:
    """What would be different: levels and doses; empty when the proposal says it all."""
    if "dose_to" not in change:
        return ""
    before, after = dose_words(change["dose_from"]), dose_words(change["dose_to"])
    if change["level_from"] == change["level_to"]:
        return f"Level {change['level_from']} stays. From {before} to {after}."
    return f"From level {change['level_from']} ({before}) to level {change['level_to']} ({after})."


def dose_words(dose: Mapping[str, Any]) -> str:
    """A stored dose, said shortly: `2 to 3 sets of 8 to 10`."""
    match dose["type"]:
        case "hold":
            return f"{_span(dose['holds'])} holds of {_span(dose['seconds'])} seconds"
        case "reps":
            return f"{_span(dose['sets'])} sets of {_span(dose['reps'])}"
        case "roll":
            return f"{_span(dose['sets'])} times {_span(dose['seconds'])} seconds of rolling"
    return f"{_span(dose['minutes'])} minutes"


def _span(pair: list[int]) -> str:
    low, high = pair
    return str(low) if low == high else f"{low} to {high}"


def evidence_words(evidence: Mapping[str, Any]) -> tuple[str, str]:
    """(what was seen, what it is held against)."""
    seen, held_against = RULES[evidence["rule"]]
    return _fill(seen, evidence["observed"]), _fill(held_against, evidence["threshold"])


def _fill(text: str, numbers: Mapping[str, Any]) -> str:
    values = {name: _said(name, value) for name, value in numbers.items()}
    if "pain_in_the_way" in numbers:
        values["pain"] = ", and pain is in the way" if numbers["pain_in_the_way"] else ""
    if "{share:%}" in text:
        text = text.replace("{share:%}", f"{round(100 * numbers['share'])} %")
    return text.format(**values)


def _said(name: str, value: Any) -> str:
    if name == "items":
        return "One exercise" if value == 1 else f"{value} exercises"
    if name == "since":
        day = date.fromisoformat(value)
        return f"{day.day} {day:%B}"
    if isinstance(value, list):
        return ", then ".join(_said(name, part) for part in value)
    if value is None:
        return "not rated"
    return f"{value:g}" if isinstance(value, float) else str(value)


@dataclass(frozen=True)
class AlertLine:
    """One red-flag answer. `flag` and `note` are empty for the front desk."""

    public_id: UUID
    client: str
    client_id: UUID
    phone: str
    at: datetime
    zone: str
    flag: str
    open: bool
    closed_at: datetime | None
    closed_by: str
    note: str


def alert_line(row: Any, *, clinical: bool) -> AlertLine:
    """The alert for a screen; without clinical detail unless `clinical`."""
    closed_by = getattr(row.closed_by, "staff", None)
    return AlertLine(
        row.public_id, row.client.name, row.client.public_id, row.client.phone, row.at, row.client.site.zone,
        row.get_flag_display() if clinical else "", row.closed_at is None, row.closed_at,
        closed_by.name if closed_by else "", row.note if clinical else "",
    )


@dataclass(frozen=True)
class LogLine:
    """One report of a session as the list shows it."""

    log_id: UUID
    day: date
    received: datetime
    edit: int
    source: str
    older_plan: bool
    revision: int
    pain: str
    effort: str
    rating: str
    words: str
    items: list[str]


def log_line(row: Any, names: Mapping[UUID, str]) -> LogLine:
    """The report in words; `row` comes with its items and revision loaded."""
    answers = (("before", row.pain_before), ("worst", row.pain_during))
    pain = [f"{word} {value}" for word, value in answers if value is not None]
    return LogLine(
        row.log_id, row.day, row.received, row.edit, row.get_source_display(), row.older_plan, row.revision.number,
        ", ".join(pain),
        "" if row.effort is None else str(row.effort), row.get_rating_display() if row.rating else "", row.words,
        [_item_words(item, names) for item in row.items.all()],
    )


def _item_words(item: Any, names: Mapping[UUID, str]) -> str:
    name = names.get(item.item_key, "An exercise")
    if item.skipped:
        return f"{name}: left out ({item.get_skipped_display().lower()})"
    if not item.done_left and not item.done_right:
        return f"{name}: not done"
    parts = [f"left {item.done_left} s" if item.done_right else f"{item.done_left} s"] if item.done_left else []
    parts += [f"right {item.done_right} s"] if item.done_right else []
    parts += [f"{item.reps_last_set} in the last set"] if item.reps_last_set is not None else []
    parts += [item.get_rating_display().lower()] if item.rating else []
    parts += [f"at level {item.level}"] if item.level else []
    return f"{name}: {', '.join(parts)}"


def day_words(row: Any, today: date) -> tuple[str, str]:
    """(shape, word) of a day record. No log is said as such: it is not the same as not done."""
    if row.state == "paused":
        return "wait", "Paused"
    if row.state == "rest":
        return ("good", "Extra session") if row.sessions_done else ("done", "Rest day")
    if not row.logged:
        return ("wait", "Today, no log yet") if row.day >= today else ("silent", "No log received")
    if row.sessions_done == 0:
        return "low", "Logged as not done"
    percent = round(100 * row.credit)
    return ("good", "Done") if percent >= 100 else ("part", f"{percent} % done")
