"""The prescriber's form: what was typed, kept as typed, and the plan it makes.

A field's name is its path in the plan (`items.0.dose.holds.minimum`), so that an error finds its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from programs.library.queries import exercises, levels_of
from programs.prescribing.rules.plan import MOST_ITEMS, MOST_PHASES, TIMES, WEEKDAYS, Plan
from programs.prescribing.rules.plan_json import plan_from_json, plan_to_json

# (name, what it is called, whether it is a range) for each structure of a dose
DOSE_PARTS: dict[str, list[tuple[str, str, bool]]] = {
    "hold": [("holds", "Holds", True), ("seconds", "Seconds a hold", True), ("rest", "Rest, seconds", False)],
    "reps": [
        ("sets", "Sets", True), ("reps", "Repetitions", True), ("tempo", "Seconds a repetition", False),
        ("rest", "Rest, seconds", False),
    ],
    "roll": [
        ("sets", "Sets", True), ("seconds", "Seconds a set", True), ("pass_seconds", "Seconds a pass", False),
        ("rest", "Rest, seconds", False),
    ],
    "continuous": [("minutes", "Minutes", True)],
}
ANY_TIME: dict[str, Any] = {"weekdays": [], "times": []}
EMPTY: dict[str, Any] = {
    "phases": [
        {"kind": "kick_off", "days": 7, "sessions": [1, 1], "days_per_week": 7, "advance": "by_decision", **ANY_TIME},
        {"kind": "maintenance", "days": None, "sessions": [1, 1], "days_per_week": 3, "advance": "by_date", **ANY_TIME},
    ],
    "items": [],
}
NEW_PHASE: dict[str, Any] = {
    "kind": "taper", "days": 14, "sessions": [1, 1], "days_per_week": 4, "advance": "by_date", **ANY_TIME,
}


@dataclass
class Draft:
    """What is on the form. `plan` has the JSON form of a plan with anything at all where a number should be."""

    plan: dict[str, Any]
    texts: dict[str, str] = field(default_factory=dict)   # title, starts, effective_from, reason, …

    def read(self, anchor: date) -> Plan:
        """The plan on the form. PlanError names what cannot be used."""
        return plan_from_json(self.plan, anchor)


TEXTS = (
    "title", "starts", "effective_from", "reason", "override_reason", "screening_reason", "based_on", "anchor", "count_from",
    "fit_minutes", "taper_shape", "taper_weeks", "template_name", "template_summary",
)


def draft_of(plan: Plan, **texts: str) -> Draft:
    """A form filled with a plan."""
    return Draft(plan_to_json(plan), texts)


def draft_from_post(post: Mapping[str, str]) -> Draft:
    """A form as it was sent, whatever was typed."""
    items = [_item(post, f"items.{n}") for n in range(MOST_ITEMS + 1) if f"items.{n}.exercise" in post]
    phases = [_phase(post, f"phases.{n}") for n in range(MOST_PHASES + 1) if f"phases.{n}.kind" in post]
    return Draft({"phases": phases, "items": items}, {name: post.get(name, "").strip() for name in TEXTS})


def change(draft: Draft, do: str) -> bool:
    """Do what a button asks (`up:2`, `remove_phase:1`, `add_item:bridge:2`); False when it is no change to the plan."""
    verb, _, where = do.partition(":")
    items, phases = draft.plan["items"], draft.plan["phases"]
    at = int(where) if where.isdigit() and len(where) < 4 else -1
    match verb:
        case "up" if 0 < at < len(items):
            items[at - 1], items[at] = items[at], items[at - 1]
        case "down" if 0 <= at < len(items) - 1:
            items[at + 1], items[at] = items[at], items[at + 1]
        case "move":
            _move(items, where)
        case "remove" if 0 <= at < len(items):
            del items[at]
        case "level_dose" if 0 <= at < len(items):
            _take_level_dose(items[at])
        case "add_item":
            slug, _, level = where.partition(":")
            _add(items, slug, int(level) if level.isdigit() and len(level) < 3 else 0)
        case "add_phase":
            phases.insert(max(0, len(phases) - 1), dict(NEW_PHASE))
        case "remove_phase" if 0 <= at < len(phases):
            del phases[at]
        case _:
            return False
    return True


def _move(items: list[dict[str, Any]], where: str) -> None:
    """`2:0` takes the third item to the first place; places that do not exist move nothing."""
    ends = [int(part) for part in where.split(":") if part.isascii() and part.isdigit() and len(part) < 4]
    if len(ends) == 2 and max(ends) < len(items):
        items.insert(ends[1], items.pop(ends[0]))


def _add(items: list[dict[str, Any]], slug: str, number: int) -> None:
    """The exercise at that level, or at its easiest."""
    levels = levels_of([slug]).get(slug, [])
    exercise = exercises().filter(slug=slug).first()
    if exercise is None or not levels or len(items) >= MOST_ITEMS:
        return
    level = next((level for level in levels if level.number == number), levels[0])
    nth = sum(item["exercise"] == slug for item in items) + 1
    items.append({
        "key": "", "exercise": slug, "level": level.number, "side": exercise.side, "dose": dict(level.dose),
        "rounds": [1, 1], "priority": min(9, nth), "note": "", "leeway": "none",
    })


def _take_level_dose(item: dict[str, Any]) -> None:
    for level in levels_of([item["exercise"]]).get(item["exercise"], []):
        if level.number == item["level"]:
            item["dose"] = dict(level.dose)


def _item(post: Mapping[str, str], path: str) -> dict[str, Any]:
    kind = post.get(f"{path}.dose.type", "")
    dose: dict[str, Any] = {"type": kind}
    for name, _, is_range in DOSE_PARTS.get(kind, []):
        where = f"{path}.dose.{name}"
        dose[name] = _pair(post, where) if is_range else _number(post.get(where, ""))
    return {
        "key": post.get(f"{path}.key", ""), "exercise": post.get(f"{path}.exercise", ""),
        "level": _number(post.get(f"{path}.level", "")), "side": post.get(f"{path}.side", ""), "dose": dose,
        "rounds": _pair(post, f"{path}.rounds"), "priority": _number(post.get(f"{path}.priority", "")),
        "note": post.get(f"{path}.note", "").strip(), "leeway": post.get(f"{path}.leeway", "none"),
    }


def _phase(post: Mapping[str, str], path: str) -> dict[str, Any]:
    days = _number(post.get(f"{path}.days", ""))
    weekdays = [name for name in WEEKDAYS if f"{path}.weekdays.{name}" in post]
    # ticked days say by themselves how many there are
    week = len(weekdays) or _number(post.get(f"{path}.days_per_week", ""))
    return {
        "kind": post.get(f"{path}.kind", ""), "days": None if days == "" else days,
        "sessions": _pair(post, f"{path}.sessions"), "days_per_week": week, "advance": post.get(f"{path}.advance", ""),
        "weekdays": weekdays, "times": [name for name in TIMES if f"{path}.times.{name}" in post],
    }


def _pair(post: Mapping[str, str], path: str) -> list[Any]:
    least = _number(post.get(f"{path}.minimum", ""))
    most = _number(post.get(f"{path}.full", ""))
    return [least, least if most == "" else most]


def _number(text: str) -> int | str:
    """A whole number, or the text as typed when it is none."""
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 6 else text
