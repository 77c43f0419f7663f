"""Two plans compared: codes and values, no wording."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from programs.library.rules.dose import dose_to_json
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. `code` says which; `where` is an exercise's slug or a phase's number; `was` and `now` are JSON.

    Codes: begins, phase_added, phase_removed, kind, days, sessions, days_per_week, advance, weekdays, times; item_added,
    item_removed, exercise, level, dose, side, rounds, priority, note, leeway, order.
    """

    code: str
    where: str
    was: Any
    now: Any

    def as_json(self) -> dict[str, Any]:
        return {"code": self.code, "where": self.where, "was": self.was, "now": self.now}


def differences(old: Plan, new: Plan) -> list[Change]:
    """What changed from `old` to `new`, phases before items; items are matched by key. Empty when they are alike."""
    found = []
    if old.anchor != new.anchor:
        found.append(Change("begins", "", old.anchor.isoformat(), new.anchor.isoformat()))
    return [*found, *_phases(old, new), *_items(old, new)]


def _phases(old: Plan, new: Plan) -> Iterator[Change]:
    for number in range(max(len(old.phases), len(new.phases))):
        name = str(number + 1)
        if number >= len(new.phases):
            yield Change("phase_removed", name, old.phases[number].kind, None)
        elif number >= len(old.phases):
            yield Change("phase_added", name, None, new.phases[number].kind)
        else:
            yield from _parts(name, _phase_parts(old.phases[number]), _phase_parts(new.phases[number]))


def _items(old: Plan, new: Plan) -> Iterator[Change]:
    before: dict[UUID, ItemPlan] = {item.key: item for item in old.items}
    after: dict[UUID, ItemPlan] = {item.key: item for item in new.items}
    for key, item in before.items():
        if key not in after:
            yield Change("item_removed", item.exercise, item.level, None)
    for key, item in after.items():
        if key not in before:
            yield Change("item_added", item.exercise, None, item.level)
        else:
            yield from _parts(item.exercise, _item_parts(before[key]), _item_parts(item))
    kept_before = [item.exercise for key, item in before.items() if key in after]
    kept_after = [item.exercise for key, item in after.items() if key in before]
    if [key for key in before if key in after] != [key for key in after if key in before]:
        yield Change("order", "", kept_before, kept_after)


def _parts(where: str, old: dict[str, Any], new: dict[str, Any]) -> Iterator[Change]:
    for code, was in old.items():
        if was != new[code]:
            yield Change(code, where, was, new[code])


def _phase_parts(phase: PhasePlan) -> dict[str, Any]:
    return {
        "kind": phase.kind, "days": phase.days, "sessions": [phase.sessions.minimum, phase.sessions.full],
        "days_per_week": phase.days_per_week, "advance": phase.advance,
        "weekdays": list(phase.weekdays), "times": list(phase.times),
    }


def _item_parts(item: ItemPlan) -> dict[str, Any]:
    return {
        "exercise": item.exercise, "level": item.level, "dose": dose_to_json(item.dose), "side": item.side,
        "rounds": [item.rounds.minimum, item.rounds.full], "priority": item.priority, "note": item.note,
        "leeway": item.leeway,
    }
