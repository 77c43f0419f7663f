from dataclasses import replace
from datetime import date
from uuid import UUID

from programs.library.rules.dose import Hold, Reps, Span
from programs.prescribing.rules.diff import Change, differences
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan

CLAM = ItemPlan(UUID(int=1), "clamshell", 1, Reps(Span(1, 2), Span(8, 12)))
BRIDGE = ItemPlan(UUID(int=2), "bridge", 1, Hold(Span(2, 2), Span(10, 10)))
PLAN = Plan(
    date(2026, 3, 2), (PhasePlan("kick_off", 7, Span(1, 2)), PhasePlan("maintenance", None, Span(1, 1), 2)), (CLAM, BRIDGE)
)


def test_like_plans_do_not_differ():
    assert differences(PLAN, replace(PLAN)) == []


def test_a_harder_level_is_one_change_of_that_exercise():
    harder = replace(PLAN, items=(replace(CLAM, level=2), BRIDGE))
    assert differences(PLAN, harder) == [Change("level", "clamshell", 1, 2)]


def test_an_item_is_followed_by_its_key_when_the_order_changes():
    turned = replace(PLAN, items=(BRIDGE, CLAM))
    assert differences(PLAN, turned) == [Change("order", "", ["clamshell", "bridge"], ["bridge", "clamshell"])]


def test_what_came_and_went():
    band = ItemPlan(UUID(int=3), "band-row", 2, Reps(Span(1, 1), Span(10, 10)))
    other = replace(PLAN, items=(CLAM, band), phases=PLAN.phases[:1])
    assert differences(PLAN, other) == [
        Change("phase_removed", "2", "maintenance", None),
        Change("item_removed", "bridge", 1, None),
        Change("item_added", "band-row", None, 2),
    ]


def test_phases_are_compared_part_by_part():
    longer = replace(PLAN, anchor=date(2026, 3, 9), phases=(PhasePlan("kick_off", 10, Span(1, 1)), PLAN.phases[1]))
    assert [(change.code, change.where, change.was, change.now) for change in differences(PLAN, longer)] == [
        ("begins", "", "2026-03-02", "2026-03-09"), ("days", "1", 7, 10), ("sessions", "1", [1, 2], [1, 1]),
    ]
