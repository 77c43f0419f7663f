"""Where programs and their exercises stand: phases, levels, how long at a level, and what no longer moves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Max

from clinic.people.models import Staff, User
from dashboards.read_models.people import caseload_programs
from dashboards.read_models.rows import ItemRow
from programs.following.queries import today_of
from programs.library.models import Level
from programs.prescribing.models import Item, Program


@dataclass(frozen=True, slots=True)
class Progression:
    """All of it: programs by phase, and every exercise in force, longest at its level first."""

    phases: Counter[str]
    items: list[ItemRow]


@dataclass(frozen=True, slots=True)
class _Held:
    """An item as one revision has it."""

    number: int
    effective: date
    key: UUID
    exercise: int
    name: str
    level: int


def progression(user: User, now: datetime, clinician: Staff | None = None) -> Progression:
    """Phases and items of the open programs; three queries."""
    rows = caseload_programs(user, clinician).select_related("state", "client", "clinician").order_by("pk")
    programs = {row.pk: row for row in rows}
    levels = dict(Level.objects.order_by().values_list("exercise").annotate(Max("number")))
    found: list[ItemRow] = []
    for pk, held in _held(programs).items():
        found += _items(programs[pk], held, levels, today_of(programs[pk], now))
    found.sort(key=lambda row: (-row.days, row.client, row.exercise))
    return Progression(Counter(_phase(row) for row in programs.values()), found)


def _phase(program: Program) -> str:
    if program.status == "on-hold":
        return "paused"
    state = getattr(program, "state", None)
    return (state.phase_kind if state else "") or "not_begun"


def _held(programs: Iterable[int]) -> dict[int, list[_Held]]:
    """Every item of every revision by program, oldest revision first."""
    found: dict[int, list[_Held]] = {}
    rows = Item.objects.filter(revision__program__in=list(programs)).order_by("revision__number", "position")
    columns = rows.values_list(
        "revision__program_id", "revision__number", "revision__effective_from", "key", "exercise_id", "exercise__name",
        "level__number",
    )
    for pk, number, effective, key, exercise, name, level in columns:
        found.setdefault(pk, []).append(_Held(number, effective, key, exercise, name, level))
    return found


def _items(program: Program, held: Sequence[_Held], levels: dict[int, int], today: date) -> list[ItemRow]:
    """The items of the revision in force on `today`, each with the day its level began; none before the first."""
    past = [item for item in held if item.effective <= today]
    newest = max((item.number for item in past), default=0)
    rows = []
    for item in past:
        if item.number != newest:
            continue
        since = item.effective
        for before in reversed([other for other in past if other.key == item.key and other.number < newest]):
            if (before.exercise, before.level) != (item.exercise, item.level):
                break
            since = min(since, before.effective)
        rows.append(
            ItemRow(
                program.client.name, program.client.public_id, program.title, program.public_id, program.clinician.name,
                item.name, item.level, levels.get(item.exercise, item.level), since, (today - since).days,
                program.status == "on-hold",
            )
        )
    return rows
