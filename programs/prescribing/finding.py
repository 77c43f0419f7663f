"""Searching the library while a program is written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.paginator import Page, Paginator

from clinic.people.vocab import Region
from programs.library.queries import exercises, warnings
from programs.library.vocab import Equipment, Kind, Severity

ROWS = 6            # exercises found at a time
MOST_LEVEL = 9
MOST_TEXT = 80      # characters


@dataclass(frozen=True)
class Found:
    """What was asked for, the page of exercises that fit, and the choices of the form."""

    asked: dict[str, str]
    page: Page[Any]
    rows: list[dict[str, Any]]
    choices: dict[str, list[Any]]


def found(sent: Mapping[str, str], conditions: Iterable[str]) -> Found:
    """Exercises by words, region, kind, equipment and level; each with what this client's conditions say against it.

    A level finds the exercises that have it, and adds them at it. What is not a choice does not filter.
    """
    asked = {name: str(sent.get(f"find.{name}", "")).strip()[:MOST_TEXT] for name in ("text", "region", "kind", "equipment")}
    level = str(sent.get("find.level", ""))
    number = int(level) if level.isdigit() and 1 <= int(level[:2]) <= MOST_LEVEL else 0
    rows = exercises(**asked)
    if number:
        rows = rows.filter(levels__number=number)
    page = Paginator(rows, ROWS).get_page(sent.get("find.page") or 1)
    against: dict[str, list[Any]] = {}
    for warning in warnings([exercise.slug for exercise in page], sorted(conditions)):
        against.setdefault(warning.slug, []).append(warning)
    return Found(
        {**asked, "level": str(number) if number else ""}, page,
        [_row(exercise, number, against.get(exercise.slug, [])) for exercise in page],
        {
            "region": Region.choices, "kind": Kind.choices, "equipment": Equipment.choices,
            "level": [(str(n), f"Level {n}") for n in range(1, 5)],
        },
    )


def _row(exercise: Any, number: int, against: list[Any]) -> dict[str, Any]:
    levels = list(exercise.levels.all())
    shown = next((level for level in levels if level.number == number), levels[0] if levels else None)
    return {
        "exercise": exercise, "level": shown, "count": len(levels), "warnings": against,
        "refused": any(warning.severity == Severity.DO_NOT for warning in against),
    }
