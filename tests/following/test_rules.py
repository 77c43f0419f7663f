"""What a suggestion makes of a plan, and what a rule set may hold."""

import copy
import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest

from programs.following.rules import change, ruleset
from programs.following.rules.attention import with_look
from programs.following.rules.change import Rung
from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span
from programs.prescribing.rules.plan import ItemPlan, PhasePlan
from tests.following.conftest import BRIDGE, LEVELS, START, hip_plan

DEFAULT = json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text())
LADDER = [Rung(number, dose) for number, dose in enumerate(LEVELS["bridge"][1], 1)]


def item(dose, level=1) -> ItemPlan:
    return ItemPlan(UUID(int=1), "x", level, dose)


def test_up_and_down_the_ladder():
    bridge = hip_plan().items[0]
    second = change.harder(bridge, LADDER)
    assert (second.level, second.dose, second.key) == (2, LADDER[1].dose, BRIDGE)
    assert change.easier(second, LADDER) == bridge


@pytest.mark.parametrize(
    ("dose", "up", "down"),
    [
        (Hold(Span(2, 2), Span(20, 30)), Hold(Span(2, 2), Span(25, 35)), Hold(Span(2, 2), Span(15, 25))),
        (Roll(Span(1, 1), Span(60, 90)), Roll(Span(1, 1), Span(75, 105)), Roll(Span(1, 1), Span(45, 75))),
        (Reps(Span(2, 2), Span(8, 12)), Reps(Span(2, 2), Span(10, 14)), Reps(Span(2, 2), Span(6, 10))),
        (Continuous(Span(10, 20)), Continuous(Span(12, 22)), Continuous(Span(8, 18))),
    ],
)
def test_without_another_level_the_dose_steps(dose, up, down):
    assert change.harder(item(dose), []).dose == up
    assert change.easier(item(dose), []).dose == down


def test_a_dose_stops_at_its_bound():
    assert change.harder(item(Hold(Span(2, 2), Span(60, 60))), []) is None
    assert change.easier(item(Hold(Span(2, 2), Span(10, 10))), []) is None
    assert change.harder(item(Hold(Span(2, 2), Span(58, 60))), []).dose.seconds == Span(60, 60)
    beyond = item(Hold(Span(2, 2), Span(90, 90)))
    assert change.harder(beyond, []) is None                       # not pulled back by asking for more


def test_the_taper_begins_with_what_follows_the_kick_off():
    plan = change.tapered(hip_plan(), START + timedelta(days=9))
    assert (plan.anchor, [phase.kind for phase in plan.phases]) == (START + timedelta(days=9), ["taper", "maintenance"])
    assert change.tapered(replace(hip_plan(), phases=hip_plan().phases[:1]), START) is None


@pytest.mark.parametrize(("asked", "today", "days"), [(1, 6, 10), (5, 6, 12), (30, 6, 14), (3, 9, 13)])
def test_a_kick_off_grows_by_three_to_seven_days(asked, today, days):
    plan = change.kick_off_extended(hip_plan(), asked, START + timedelta(days=today))
    assert plan.phases[0].days == days
    assert plan.anchor == START


def test_only_a_kick_off_is_made_longer():
    tapering = replace(hip_plan(), phases=(PhasePlan("taper", 7, Span(1, 1)),))
    assert change.kick_off_extended(tapering, 3, START) is None


def test_an_item_that_is_not_there_is_named():
    with pytest.raises(KeyError, match=str(UUID(int=5))):
        change.with_item(hip_plan(), replace(hip_plan().items[0], key=UUID(int=5)))


def test_the_default_rule_set_is_whole_and_cites_every_number():
    rules = ruleset.read(1, DEFAULT)
    assert set(rules.numbers) == set(ruleset.NAMES)
    assert all(rules.sources[name] for name in ruleset.NAMES)


@pytest.mark.parametrize(
    ("name", "part", "value", "sentence"),
    [
        ("pain.severe", "value", 11, "thresholds.pain.severe.value: must be 6 to 10, not 11"),
        ("pain.severe", "value", 6.5, "thresholds.pain.severe.value: must be a whole number"),
        ("rest.days", "value", "7", "thresholds.rest.days.value: must be a number"),
        ("rest.days", "value", True, "thresholds.rest.days.value: must be a number"),
        ("rest.days", "source", "hearsay", "thresholds.rest.days.source: 'hearsay' is not among the sources"),
        ("bands.partly", "value", 0.9, "thresholds.bands.partly: cannot be above bands.on_track"),
    ],
)
def test_a_threshold_that_cannot_be_used_is_named(name, part, value, sentence):
    data = copy.deepcopy(DEFAULT)
    data["thresholds"][name][part] = value
    with pytest.raises(ValueError, match=sentence):
        ruleset.read(1, data)


def test_a_missing_and_an_unknown_threshold_are_named():
    data = copy.deepcopy(DEFAULT)
    del data["thresholds"]["rest.days"]
    with pytest.raises(ValueError, match=r"rest\.days: is missing"):
        ruleset.read(1, data)
    with pytest.raises(ValueError, match="luck: is not known"):
        ruleset.read(1, {**DEFAULT, "thresholds": {**DEFAULT["thresholds"], "luck": {}}})
    with pytest.raises(ValueError, match="needs sources and thresholds"):
        ruleset.read(1, {})


def test_an_overdue_look_adds_its_points_where_it_belongs():
    pain = {"code": "pain", "points": 120, "pain": 7}
    partly = {"code": "partly", "points": 20, "share": 0.6}
    points, reasons = with_look(140, [pain, partly], 9)
    assert (points, [(row["code"], row["points"]) for row in reasons]) == (
        190, [("pain", 120), ("look_overdue", 50), ("partly", 20)]
    )
    assert with_look(140, [pain, partly], 0) == (140, (pain, partly))
    assert with_look(0, [], 400)[0] == 80      # it does not grow past what silence weighs
