"""Every version of a program as plain values, for what is asked with each log: three queries that are worded once.

Reading a plan's rows into a plan is remembered by what the rows say, so that the same plan is not put together a second time.
"""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db.models import TextField
from django.db.models.functions import Cast

from clinic.people.prepared import READER, Prepared
from programs.library.rules.dose import Span, dose_from_json
from programs.prescribing.models import Item, Phase, Program, Revision
from programs.prescribing.queries import phase_of
from programs.prescribing.rules.plan import ItemPlan, Plan

_REVISIONS = Prepared(lambda _: Revision.objects.filter(program=READER).order_by("number").values_list(
    "pk", "number", "public_id", "effective_from", "anchor"
))
_PHASES = Prepared(lambda _: Phase.objects.filter(revision__program=READER).order_by("revision_id", "number").values_list(
    "revision_id", "kind", "days", "sessions_minimum", "sessions_full", "days_per_week", "advance", "weekdays", "times"
))
_ITEMS = Prepared(lambda _: Item.objects.filter(revision__program=READER).order_by("revision_id", "position").values_list(
    "revision_id", "key", "exercise__slug", "level__number", Cast("dose", TextField()), "side", "rounds_minimum",
    "rounds_full", "exercise__setup_seconds", "priority", "note", "leeway",
))


@dataclass(frozen=True, slots=True)
class Version:
    """A revision's own columns."""

    pk: int
    number: int
    public_id: UUID
    effective_from: date


def versions_of(program: Program) -> list[tuple[Version, Plan]]:
    """Every revision with its plan, oldest first."""
    phases: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
    items: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
    for found, rows in ((phases, _PHASES), (items, _ITEMS)):
        for revision, *values in rows.rows(reader=program.pk):
            found[revision].append(tuple(values))
    return [
        (Version(pk, number, public_id, effective_from), _plan(anchor, tuple(phases[pk]), tuple(items[pk])))
        for pk, number, public_id, effective_from, anchor in _REVISIONS.rows(reader=program.pk)
    ]


@lru_cache(maxsize=1024)
def _plan(anchor: date, phases: tuple[tuple[Any, ...], ...], items: tuple[tuple[Any, ...], ...]) -> Plan:
    return Plan(anchor, tuple(phase_of(*row) for row in phases), tuple(_item(*row) for row in items))


@lru_cache(maxsize=4096)
def _item(
    key: UUID, exercise: str, level: int, dose: str, side: str, least: int, full: int, setup_seconds: int, priority: int,
    note: str, leeway: str | None,
) -> ItemPlan:
    return ItemPlan(
        key=key, exercise=exercise, level=level, dose=dose_from_json(json.loads(dose)), side=side,   # type: ignore[arg-type]
        rounds=Span(least, full), setup_seconds=setup_seconds, priority=priority, note=note,
        leeway=leeway or "none",   # type: ignore[arg-type]
    )
