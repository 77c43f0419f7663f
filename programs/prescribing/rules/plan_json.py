"""The stored and sent form of a plan, read and written. Errors name the path of what cannot be used."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, get_args
from uuid import UUID, uuid5

from programs.library.rules.dose import MOST, Dose, Span, dose_from_json, dose_to_json
from programs.prescribing.rules.plan import (
    MOST_ITEMS,
    MOST_NOTE,
    MOST_PHASES,
    TIMES,
    WEEKDAYS,
    AdvanceName,
    ItemPlan,
    LeewayName,
    PhaseName,
    PhasePlan,
    Plan,
    SideName,
)

# an item without a key of its own gets one from its exercise, so that reading the same plan twice gives the same items
KEYS = UUID("6a0f4c0e-6d0b-5f0e-9a57-1f7c1d9a2b10")
_ITEM = {"key", "exercise", "level", "side", "dose", "rounds", "setup_seconds", "priority", "note", "leeway"}
_PHASE = {"kind", "days", "sessions", "days_per_week", "advance", "weekdays", "times"}
Problems = dict[str, str]


class PlanError(ValueError):
    """A plan that cannot be read. `fields` maps each path (`items.0.dose.holds`) to a sentence."""

    def __init__(self, fields: Problems) -> None:
        super().__init__("; ".join(f"{path}: {sentence}" for path, sentence in fields.items()))
        self.fields = fields


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """`phases` and `items`; the anchor is kept apart, because a template has none."""
    return {
        "phases": [phase_to_json(phase) for phase in plan.phases], "items": [item_to_json(item) for item in plan.items]
    }


def phase_to_json(phase: PhasePlan) -> dict[str, Any]:
    """The stored form of one phase."""
    return {
        "kind": phase.kind, "days": phase.days, "sessions": [phase.sessions.minimum, phase.sessions.full],
        "days_per_week": phase.days_per_week, "advance": phase.advance,
        "weekdays": list(phase.weekdays), "times": list(phase.times),
    }


def item_to_json(item: ItemPlan) -> dict[str, Any]:
    """The stored form of one item."""
    return {
        "key": str(item.key), "exercise": item.exercise, "level": item.level, "side": item.side,
        "dose": dose_to_json(item.dose), "rounds": [item.rounds.minimum, item.rounds.full],
        "setup_seconds": item.setup_seconds, "priority": item.priority, "note": item.note,
        "leeway": item.leeway,
    }


def plan_from_json(data: Any, anchor: date) -> Plan:
    """Read a plan whose first phase begins on `anchor`. PlanError (a ValueError) names every part at fault."""
    wrong: Problems = {}
    if not isinstance(data, Mapping):
        raise PlanError({"plan": "A plan is an object with phases and items."})
    for name in sorted(set(data) - {"phases", "items"}):
        wrong[str(name)] = "This is not part of a plan."
    phases = _list(data, "phases", MOST_PHASES, wrong)
    items = _list(data, "items", MOST_ITEMS, wrong)
    read_phases = [_phase(row, f"phases.{index}", wrong) for index, row in enumerate(phases)]
    read_items: list[ItemPlan | None] = []
    seen: dict[str, int] = {}
    for index, row in enumerate(items):
        slug = str(row.get("exercise"))
        seen[slug] = seen.get(slug, 0) + 1
        read_items.append(_item(row, f"items.{index}", seen[slug], wrong))
    if wrong:
        raise PlanError(wrong)
    return Plan(
        anchor, tuple(phase for phase in read_phases if phase), tuple(item for item in read_items if item)
    )


def _list(data: Mapping[str, Any], name: str, most: int, wrong: Problems) -> list[Mapping[str, Any]]:
    rows = data.get(name)
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        wrong[name] = f"{name.capitalize()} must be a list of objects."
        return []
    if len(rows) > most:
        wrong[name] = f"A program can have {most} {name} at most, not {len(rows)}."
        return []
    return rows


def _phase(row: Mapping[str, Any], path: str, wrong: Problems) -> PhasePlan | None:
    before = len(wrong)
    _unknown(row, _PHASE, path, wrong)
    kind = _one_of(row.get("kind"), get_args(PhaseName), f"{path}.kind", wrong)
    days = row.get("days")
    if days is not None:
        days = _whole(days, 1, 366, f"{path}.days", wrong, "days")
    sessions = _span(row.get("sessions", 1), 6, f"{path}.sessions", wrong)
    weekdays = _some_of(row.get("weekdays", []), WEEKDAYS, f"{path}.weekdays", wrong)
    times = _some_of(row.get("times", []), TIMES, f"{path}.times", wrong)
    week = _whole(row.get("days_per_week", len(weekdays) or 7), 1, 7, f"{path}.days_per_week", wrong, "days a week")
    advance = _one_of(row.get("advance", "by_date"), get_args(AdvanceName), f"{path}.advance", wrong)
    if len(wrong) > before:
        return None
    return PhasePlan(kind, days, sessions, week, advance, weekdays, times)   # type: ignore[arg-type]


def _item(row: Mapping[str, Any], path: str, nth: int, wrong: Problems) -> ItemPlan | None:
    before = len(wrong)
    _unknown(row, _ITEM, path, wrong)
    slug = row.get("exercise")
    if not isinstance(slug, str) or not slug:
        wrong[f"{path}.exercise"] = "Name an exercise."
    key = _key(row.get("key"), f"{slug}#{nth}", f"{path}.key", wrong)
    level = _whole(row.get("level"), 1, 20, f"{path}.level", wrong, "")
    side = _one_of(row.get("side", "both"), get_args(SideName), f"{path}.side", wrong)
    dose = _dose(row.get("dose"), f"{path}.dose", wrong)
    rounds = _span(row.get("rounds", 1), 10, f"{path}.rounds", wrong)
    setup = _whole(row.get("setup_seconds", 20), 0, 600, f"{path}.setup_seconds", wrong, "seconds")
    priority = _whole(row.get("priority", 1), 1, 9, f"{path}.priority", wrong, "")
    note = row.get("note", "")
    if not isinstance(note, str) or len(note) > MOST_NOTE or any(ord(character) < 32 for character in note):
        wrong[f"{path}.note"] = f"A note is one line of {MOST_NOTE} characters at most."
    leeway = _one_of(row.get("leeway", "none"), get_args(LeewayName), f"{path}.leeway", wrong)
    if len(wrong) > before:
        return None
    return ItemPlan(key, slug, level, dose, side, rounds, setup, priority, note, leeway)   # type: ignore[arg-type]


def _unknown(row: Mapping[str, Any], known: set[str], path: str, wrong: Problems) -> None:
    for name in sorted(str(name) for name in set(row) - known):
        wrong[f"{path}.{name}"] = "This is not part of a plan."


def _whole(value: Any, least: int, most: int, path: str, wrong: Problems, unit: str) -> int:
    if type(value) is int and least <= value <= most:
        return value
    wrong[path] = f"Give a whole number from {least} to {most}{' ' + unit if unit else ''}, not {_shown(value)}."
    return least


def _one_of(value: Any, known: tuple[str, ...], path: str, wrong: Problems) -> str:
    if value in known:
        return str(value)
    wrong[path] = f"Choose one of {', '.join(known)}, not {_shown(value)}."
    return known[0]


def _some_of(value: Any, known: tuple[str, ...], path: str, wrong: Problems) -> tuple[str, ...]:
    """Any of `known`, each once, in their own order whatever the order given."""
    if not isinstance(value, list | tuple) or not all(isinstance(name, str) for name in value):
        wrong[path] = f"Give a list of {', '.join(known)}."
        return ()
    strange = next((name for name in value if name not in known), None)
    if strange is not None:
        wrong[path] = f"Choose from {', '.join(known)}, not {_shown(strange)}."
    elif len(set(value)) != len(value):
        wrong[path] = "Name each one once."
    return tuple(name for name in known if name in value)


def _span(value: Any, most: int, path: str, wrong: Problems) -> Span:
    pair = [value, value] if type(value) is int else value
    if isinstance(pair, list | tuple) and len(pair) == 2 and all(type(number) is int for number in pair):
        if 1 <= pair[0] <= pair[1] <= most:
            return Span(*pair)
        wrong[path] = f"The minimum comes first, the full amount after it, 1 to {most}; not {pair[0]} to {pair[1]}."
    else:
        wrong[path] = f"Give whole numbers from 1 to {most}, the minimum and the full amount."
    return Span(1, 1)


def _key(value: Any, fallback: str, path: str, wrong: Problems) -> UUID:
    if value in (None, ""):
        return uuid5(KEYS, fallback)
    try:
        return UUID(str(value))
    except ValueError:
        wrong[path] = "The key must be a UUID."
        return KEYS


def _dose(value: Any, path: str, wrong: Problems) -> Dose | None:
    if not isinstance(value, Mapping):
        wrong[path] = "A dose is an object with a type."
        return None
    before = len(wrong)
    for name, pair in value.items():
        if isinstance(pair, list | tuple):
            _span(pair, MOST, f"{path}.{name}", wrong)
    if len(wrong) > before:
        return None
    try:
        return dose_from_json(value)
    except ValueError as error:
        name, _, sentence = str(error).partition(": ")
        wrong[f"{path}.{name}"] = f"{sentence[:1].upper()}{sentence[1:]}."
        return None


def _shown(value: Any) -> str:
    """The value as it may be quoted back: short, and never something nested."""
    if value is None or value == "":
        return "empty"
    return repr(value)[:40] if isinstance(value, str | int | float | bool) else "something else"
