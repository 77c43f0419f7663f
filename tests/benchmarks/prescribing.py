"""How long the arithmetic of a program, fitting it to a client's time, and its handout take.

A program of 12 exercises and 12 weeks: kick-off, three taper steps, maintenance. Yardsticks: reading the same plan from its
stored form; a plain table over seconds that allots the same exercises; setting a page of the handout's own pictures alone.
"""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from random import Random
from uuid import UUID

from tests.benchmarks.common import Measured, quickest

SETTING = "plain"
ROOT = Path(__file__).resolve().parents[2]
MONDAY, DAYS = date(2026, 3, 2), 84
KINDS = ("static_stretch", "strength", "rolling", "aerobic")


def measure() -> list[Measured]:
    """The three promises of prescribing, in processor seconds."""
    from django.utils import timezone

    from clinic.project.reference import load_reference

    load_reference(timezone.now())
    return [_arithmetic(), *_fits(), _paper()]


def _items(count: int, dice: Random):
    """Exercises of all four structures, each with real ranges: where fitting has most to choose from."""
    from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span
    from programs.prescribing.rules.plan import ItemPlan

    doses = (
        lambda: Hold(Span(1, 3), Span(20, dice.randint(30, 60)), dice.randint(0, 15)),
        lambda: Reps(Span(1, 3), Span(8, dice.randint(10, 20)), dice.randint(2, 7), dice.randint(0, 40)),
        lambda: Roll(Span(1, 3), Span(30, dice.randint(60, 120)), 3, dice.randint(0, 15)),
        lambda: Continuous(Span(2, dice.randint(5, 10))),
    )
    return tuple(
        ItemPlan(
            UUID(int=n + 1), f"x{n}", 1, doses[n % 4](), dice.choice(("each", "both")), Span(1, 2), dice.randint(5, 30),
            priority=dice.randint(1, 3),
        )
        for n in range(count)
    )


def _plan(items):
    from programs.library.rules.dose import Span
    from programs.prescribing.rules.plan import PhasePlan, Plan

    phases = (
        PhasePlan("kick_off", 7, Span(1, 2), 7), PhasePlan("taper", 14, Span(1, 2), 5), PhasePlan("taper", 21, Span(1, 1), 4),
        PhasePlan("taper", 21, Span(1, 1), 3), PhasePlan("maintenance", None, Span(1, 1), 2),
    )
    return Plan(MONDAY, phases, tuple(items))


def _arithmetic() -> Measured:
    from programs.library.rules.guideline import check
    from programs.prescribing.rules.plan import phase_seconds
    from programs.prescribing.rules.plan_json import plan_from_json, plan_to_json
    from programs.prescribing.rules.timeline import timeline

    plan = _plan(_items(12, Random(12)))
    stored = plan_to_json(plan)

    def work() -> None:
        for phase in plan.phases:
            phase_seconds(plan, phase, "minimum"), phase_seconds(plan, phase, "full")
            for n, item in enumerate(plan.items):
                check(KINDS[n % 4], item.side, item.dose, item.rounds, phase.sessions, phase.days_per_week)
        timeline([(plan.anchor, plan)], [], MONDAY, MONDAY + timedelta(days=DAYS - 1))

    return Measured(
        name="doses, days and guideline check of 12 exercises over 12 weeks", took=quickest(work, rounds=7, times=20),
        yardstick="reading the plan from its stored form",
        against=quickest(lambda: plan_from_json(stored, MONDAY), rounds=7, times=20),
        most=5.0, most_took=0.002,
    )


def _fits() -> list[Measured]:
    """The slowest of many budgets, for exercises of one priority (the hardest to allot) and of three."""
    from dataclasses import replace

    mixed = _items(15, Random(15))
    alike = tuple(replace(item, priority=1) for item in mixed)
    return [_fit("of one priority", alike), _fit("of three priorities", mixed)]


def _fit(words: str, items) -> Measured:
    from programs.prescribing.rules.fit import fit, steps

    least, most = (sum(item.seconds(end) for item in items) // 60 for end in ("minimum", "full"))
    budgets = [least + (most - least) * share // 8 for share in range(1, 8)]
    took, budget = max((quickest(lambda m=m: fit(items, m), rounds=3), m) for m in budgets)
    ways = [steps(item) for item in items]

    def plain() -> int:
        """Every budget in seconds, one exercise after the other: the least loss, exact as well, for one priority."""
        table = [0] * (budget * 60 + 1)
        for options in ways:
            table = [
                min((table[room - way.seconds] + way.loss for way in options if way.seconds <= room), default=1 << 40)
                for room in range(budget * 60 + 1)
            ]
        return table[-1]

    if len({item.priority for item in items}) == 1:
        chosen = {item.key: item for item in fit(items, budget).items}
        loss = sum(
            next(way.loss for way in options if way.seconds == chosen[item.key].seconds("full"))
            for item, options in zip(items, ways, strict=True)
        )
        if loss != plain():
            raise SystemExit(f"fit loses {loss}, the plain table {plain()}: it is not exact")
    return Measured(
        name=f"fit to time, 15 exercises {words}, the slowest of {len(budgets)} budgets", took=took,
        yardstick="a plain table over the seconds", against=quickest(plain, rounds=1), most=0.2, most_took=0.1,
    )


def _paper() -> Measured:
    """A handout of 12 exercises of the library, after the first of its process."""
    from programs.prescribing.paper.handout import Heading, handout_data, handout_pdf, typeset
    from programs.prescribing.rules.plan_json import plan_from_json

    plans = [json.loads(path.read_text())["plan"] for path in sorted((ROOT / "fixtures/templates").glob("*.json"))]
    rows = [row for plan in plans for row in plan["items"]][:12]
    plan = plan_from_json({"phases": plans[0]["phases"], "items": rows}, MONDAY)
    heading = [
        Heading(f"Program {n}", f"Ada {n}", "Mina Vale", "Harbour Lane", "+441632960100", "999", "http://127.0.0.1/", "en")
        for n in range(12)
    ]
    handout_pdf(handout_data(heading[0], plan, [], MONDAY))
    made = iter(heading[1:])

    def work() -> None:
        handout_pdf(handout_data(next(made), plan, [], MONDAY))   # another client each time: nothing of it is known yet

    bare = {**handout_data(heading[0], plan, [], MONDAY), "items": [], "phases": [], "stop": [], "density": "roomy"}
    numbers = iter(range(1000))
    return Measured(
        name="handout PDF of 12 exercises, after the first", took=quickest(work, rounds=9),
        yardstick="the same page with neither exercises nor phases",
        against=quickest(lambda: typeset({**bare, "title": f"Bare {next(numbers)}"}), rounds=9), most=16.0, most_took=0.15,
    )
