"""What a suggestion would make of a plan: the plan changed, nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from uuid import UUID

from programs.library.rules.dose import Continuous, Dose, Hold, Reps, Roll, Span
from programs.prescribing.rules.plan import ItemPlan, Plan, from_phase, phase_on

# where a dose step stops: (least, most). Holds and rolling are kept within what is published for one go: static holds of
# 10-60 s (Garber CE et al. 2011, Med Sci Sports Exerc 43(7):1334-1359), rolling 30-120 s a set (Behm DG et al. 2020,
# J Strength Cond Res 34(11):3301-3308). Repetitions, minutes and the size of a step: common practice, no source.
HOLD_SECONDS, HOLD_STEP = (10, 60), 5
ROLL_SECONDS, ROLL_STEP = (30, 120), 15
REPS, REPS_STEP = (4, 20), 2
MINUTES, MINUTES_STEP = (3, 60), 2
EXTEND_LEAST, EXTEND_MOST = 3, 7          # days a kick-off may be made longer at a time


@dataclass(frozen=True, slots=True)
class Rung:
    """One level of an exercise with the library's dose."""

    number: int
    dose: Dose


def harder(item: ItemPlan, ladder: Sequence[Rung]) -> ItemPlan | None:
    """The next level with its dose, or a larger dose on the highest level; None when there is nothing harder."""
    above = [rung for rung in ladder if rung.number > item.level]
    if above:
        rung = min(above, key=lambda rung: rung.number)
        return replace(item, level=rung.number, dose=rung.dose)
    dose = _stepped(item.dose, +1)
    return replace(item, dose=dose) if dose else None


def easier(item: ItemPlan, ladder: Sequence[Rung]) -> ItemPlan | None:
    """The level before with its dose, or a smaller dose on the lowest level; None when there is nothing easier."""
    below = [rung for rung in ladder if rung.number < item.level]
    if below:
        rung = max(below, key=lambda rung: rung.number)
        return replace(item, level=rung.number, dose=rung.dose)
    dose = _stepped(item.dose, -1)
    return replace(item, dose=dose) if dose else None


def _stepped(dose: Dose, way: int) -> Dose | None:
    changed: Dose
    match dose:
        case Hold():
            changed = replace(dose, seconds=_moved(dose.seconds, way * HOLD_STEP, HOLD_SECONDS))
        case Roll():
            changed = replace(dose, seconds=_moved(dose.seconds, way * ROLL_STEP, ROLL_SECONDS))
        case Reps():
            changed = replace(dose, reps=_moved(dose.reps, way * REPS_STEP, REPS))
        case Continuous():
            changed = replace(dose, minutes=_moved(dose.minutes, way * MINUTES_STEP, MINUTES))
    return None if changed == dose else changed


def _moved(span: Span, by: int, bounds: tuple[int, int]) -> Span:
    """Both ends moved; a number never passes a bound that it was inside of, nor moves back from beyond it."""
    least, most = bounds

    def move(number: int) -> int:
        return max(number, min(number + by, most)) if by > 0 else min(number, max(number + by, least))

    return Span(move(span.minimum), move(span.full))


def altered(
    item: ItemPlan, ladder: Sequence[Rung], level: int | None, amount: tuple[int, int] | None
) -> ItemPlan | None:
    """The item on another level with that level's dose, and with another amount: seconds a hold, repetitions, seconds of
    rolling or minutes, from least to full. None when there is no such level; ValueError for an amount that is no range.
    """
    changed = item
    if level is not None and level != item.level:
        rung = next((rung for rung in ladder if rung.number == level), None)
        if rung is None:
            return None
        changed = replace(item, level=level, dose=rung.dose)
    return changed if amount is None else replace(changed, dose=_with_amount(changed.dose, Span(*amount)))


def _with_amount(dose: Dose, amount: Span) -> Dose:
    match dose:
        case Hold() | Roll():
            return replace(dose, seconds=amount)
        case Reps():
            return replace(dose, reps=amount)
        case Continuous():
            return replace(dose, minutes=amount)


def amount_of(dose: Dose) -> Span:
    """The number of a dose that steps change: seconds, repetitions or minutes."""
    match dose:
        case Hold() | Roll():
            return dose.seconds
        case Reps():
            return dose.reps
        case Continuous():
            return dose.minutes


def with_item(plan: Plan, item: ItemPlan) -> Plan:
    """The plan with the item of the same key replaced. KeyError when it has none."""
    if all(held.key != item.key for held in plan.items):
        raise KeyError(str(item.key))
    return replace(plan, items=tuple(item if held.key == item.key else held for held in plan.items))


def item_of(plan: Plan, key: UUID) -> ItemPlan | None:
    """The item with that key."""
    return next((item for item in plan.items if item.key == key), None)


def tapered(plan: Plan, effective_from: date) -> Plan | None:
    """The phases from the first one after the kick-off on, counted from `effective_from`; None when there is none."""
    after = next((index for index, phase in enumerate(plan.phases) if phase.kind != "kick_off"), None)
    if after is None:
        return None
    return replace(plan, anchor=effective_from, phases=plan.phases[after:])


def moved_on(plan: Plan, today: date, effective_from: date) -> Plan | None:
    """The plan from the phase after today's on, counted from `effective_from`; None in the last phase."""
    number, _ = phase_on(plan, today)
    return from_phase(plan, number + 2, effective_from) if number + 1 < len(plan.phases) else None


def carried_out(
    plan: Plan, kind: str, item_key: UUID | None, numbers: Mapping[str, Any], today: date, effective_from: date,
    ladder: Sequence[Rung],
) -> Plan | None:
    """The plan as it is once a suggestion of that kind is accepted as made; None when the plan no longer allows it.

    `numbers` is the change its evidence names; `ladder` the levels of the item's exercise.
    """
    if kind == "taper":
        return moved_on(plan, today, effective_from) if "phase" in numbers else tapered(plan, effective_from)
    if kind == "extend_kick_off":
        return kick_off_extended(plan, int(numbers["days"]), today)
    item = item_of(plan, item_key) if item_key else None
    if item is None:
        return None
    stepped = harder(item, ladder) if kind == "progress" else easier(item, ladder)
    return with_item(plan, stepped) if stepped else None


def kick_off_extended(plan: Plan, days: int, today: date) -> Plan | None:
    """The kick-off phase of today made `days` (3 to 7) longer; None outside a kick-off or when it is open-ended.

    A kick-off that waits for a decision and has run past its days is extended from today.
    """
    number, index = phase_on(plan, today)
    phase = plan.phases[number]
    if phase.kind != "kick_off" or phase.days is None:
        return None
    days = min(max(days, EXTEND_LEAST), EXTEND_MOST)
    longer = replace(phase, days=max(phase.days, index + 1) + days)
    return replace(plan, phases=(*plan.phases[:number], longer, *plan.phases[number + 1:]))
