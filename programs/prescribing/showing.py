"""What the pages show of a plan: rows with their words still to be chosen by a template."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import zip_longest
from typing import Any

from programs.library.queries import levels_of, warnings
from programs.library.rules.guideline import Finding, active_week, check
from programs.library.vocab import Kind
from programs.prescribing.prescriber import DOSE_PARTS, Draft
from programs.prescribing.queries import levels_named, template_plan, with_library
from programs.prescribing.rules.plan import (
    PhasePlan,
    Plan,
    as_if_decided,
    phase_seconds,
    phase_starts,
)
from programs.prescribing.rules.ribbon import RibbonDay
from programs.prescribing.rules.timeline import asked_ribbon, timeline

OPEN_ENDED_SHOWN = 28   # days of an open-ended phase that a preview draws


@dataclass(frozen=True)
class PhaseRow:
    """One phase with its dates and what a day of it takes. `first` None: it waits for a decision."""

    number: int
    phase: PhasePlan
    first: date | None
    last: date | None
    meant_for: date
    minimum_seconds: int
    full_seconds: int


def phase_rows(plan: Plan) -> list[PhaseRow]:
    """Every phase; `meant_for` is the first day when all decisions are taken on time."""
    known = dict(phase_starts(plan))
    meant = dict(phase_starts(as_if_decided(plan)))
    rows = []
    for number, phase in enumerate(plan.phases, start=1):
        ends = phase.days is not None and phase.advance == "by_date" and number < len(plan.phases)
        first = known.get(number)
        rows.append(
            PhaseRow(
                number, phase, first,
                first + timedelta(days=(phase.days or 1) - 1) if first and ends else None, meant.get(number, plan.anchor),
                phase_seconds(plan, phase, "minimum"), phase_seconds(plan, phase, "full"),
            )
        )
    return rows


def preview(plan: Plan) -> list[RibbonDay]:
    """The ribbon of a plan as it runs when every decision is taken on time."""
    decided = as_if_decided(plan)
    days = sum(phase.days or OPEN_ENDED_SHOWN for phase in decided.phases)
    last = plan.anchor + timedelta(days=min(days, 366) - 1)
    return asked_ribbon(timeline([(plan.anchor, decided)], [], plan.anchor, last))


@dataclass(frozen=True)
class Checked:
    """One finding of the guideline check with the exercise it is about."""

    exercise: str
    finding: Finding


def guideline_rows(plan: Plan) -> list[tuple[int, PhasePlan, list[Checked]]]:
    """Each phase with what published dose ranges say about its exercises."""
    levels = levels_named(plan)
    rows = []
    for number, phase in enumerate(plan.phases, start=1):
        found = [
            Checked(level.exercise.name, finding)
            for item in plan.items
            if (level := levels.get((item.exercise, item.level)))
            for finding in check(
                level.exercise.kind, item.side, item.dose, item.rounds, phase.sessions, phase.days_per_week
            )
        ]
        aerobic = [item for item in plan.items if (level := levels.get((item.exercise, item.level))) and _moves_on(level)]
        if len(aerobic) > 1:   # the activity guideline counts a whole week, whatever it is made of
            week = sum(item.work("full") for item in aerobic) // 60 * phase.sessions.full * phase.days_per_week
            found.append(Checked("All aerobic exercises together", active_week(week)))
        rows.append((number, phase, found))
    return rows


def _moves_on(level: Any) -> bool:
    return level.exercise.kind == Kind.AEROBIC and level.dose.get("type") == "continuous"


def summary(plan: Plan, conditions: Iterable[str]) -> dict[str, Any]:
    """What the prescriber shows beside the form: minutes, ribbon, guideline check, precautions."""
    plan = with_library(plan, levels_named(plan))
    return {
        "phases": phase_rows(plan),
        "ribbon": preview(plan),
        "guideline": guideline_rows(plan),
        "warnings": warnings(sorted({item.exercise for item in plan.items}), sorted(conditions)),
        "session": (plan.session_seconds("minimum"), plan.session_seconds("full")),
    }


def item_rows(draft: Draft, errors: dict[str, str]) -> list[dict[str, Any]]:
    """The items of the form, each with its fields, the levels to choose from and the errors that are its own."""
    items = draft.plan["items"]
    levels = levels_of(sorted({str(item["exercise"]) for item in items}))
    rows = []
    for index, item in enumerate(items):
        path = f"items.{index}"
        known = levels.get(item["exercise"], [])
        fields = [_field(f"{path}.rounds", "Rounds", item["rounds"], True, errors)]
        fields += [
            _field(f"{path}.dose.{name}", label, item["dose"].get(name, ""), is_range, errors)
            for name, label, is_range in DOSE_PARTS.get(item["dose"].get("type", ""), [])
        ]
        shown = {field["path"] for field in fields}
        rows.append({
            **item, "index": index, "path": path, "fields": fields, "levels": known,
            "name": known[0].exercise.name if known else item["exercise"],
            "chosen": next((level for level in known if level.number == item["level"]), None),
            **_own(path, errors, shown, ("level", "side", "priority", "note", "leeway")),
        })
    return rows


def phase_fields(draft: Draft, errors: dict[str, str]) -> list[dict[str, Any]]:
    """The phases of the form with the errors that are their own."""
    return [
        {
            **phase, "index": index, "path": f"phases.{index}",
            "sessions_field": _field(f"phases.{index}.sessions", "Sessions a day", phase["sessions"], True, errors),
            **_own(
                f"phases.{index}", errors, {f"phases.{index}.sessions"},
                ("kind", "days", "days_per_week", "advance", "weekdays", "times"),
            ),
        }
        for index, phase in enumerate(draft.plan["phases"])
    ]


def _own(path: str, errors: dict[str, str], shown: set[str], fields: tuple[str, ...]) -> dict[str, dict[str, str]]:
    """What is wrong with one row of the form: `at` its fields by name, and `errors` that belong to none of them."""
    at = {name: errors[f"{path}.{name}"] for name in fields if f"{path}.{name}" in errors}
    rest = {
        where: text for where, text in errors.items()
        if where.startswith(f"{path}.") and where not in shown and where.removeprefix(f"{path}.") not in at
    }
    return {"at": at, "errors": rest}


def _field(path: str, label: str, value: Any, is_range: bool, errors: dict[str, str]) -> dict[str, Any]:
    low, high = value if isinstance(value, list | tuple) and len(value) == 2 else (value, value)
    return {
        "path": path, "label": label, "is_range": is_range, "minimum": low, "full": high, "error": errors.get(path, "")
    }


def template_card(template: Any) -> dict[str, Any]:
    """A template with its phases and ribbon; set-up times as stored in it."""
    plan = template_plan(template)
    return {"template": template, "phases": phase_rows(plan), "ribbon": preview(plan), "count": len(plan.items)}


def named_items(plan: Plan, language: str = "en") -> list[dict[str, Any]]:
    """Items with the library's level, for drawings, and its words in `language` (BCP 47); a walk is not `sided`."""
    levels = levels_named(plan)
    return [
        {
            "item": item, "level": level, "exercise": level.exercise, "words": level.exercise.in_language(language),
            "level_words": level.in_language(language), "sided": level.exercise.kind != Kind.AEROBIC or item.side != "both",
        }
        for item in with_library(plan, levels).items
        if (level := levels.get((item.exercise, item.level)))
    ]


def session_span(plan: Plan) -> tuple[int, int]:
    """Seconds of one session, minimum and full."""
    return plan.session_seconds("minimum"), plan.session_seconds("full")


@dataclass(frozen=True)
class Pair:
    """One part of two plans, beside each other; None where a plan is without it."""

    slug: str
    was: Any
    now: Any


def side_by_side(old: Plan, new: Plan) -> dict[str, list[Pair]]:
    """Phases by their place and items by their key, in the order of the newer plan; what was taken out comes last."""
    before = {item.key: item for item in old.items}
    after = {item.key: item for item in new.items}
    gone = [Pair(item.exercise, item, None) for key, item in before.items() if key not in after]
    return {
        "phases": [Pair("", was, now) for was, now in zip_longest(old.phases, new.phases)],
        "items": [Pair(item.exercise, before.get(key), item) for key, item in after.items()] + gone,
    }
