"""What an answer about another level than the prescribed one says of the prescribed one."""

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest

from programs.following.rules import item_rules, ruleset
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, EffectivePlan, LoggedSession
from programs.following.rules.entry import ItemEntry
from tests.following.conftest import BRIDGE, LEVELS, START, hip_plan

RULES = ruleset.read(1, json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text()))
LADDER = [Rung(number, dose) for number, dose in enumerate(LEVELS["bridge"][1], 1)]


def decided(*, rating="", reps=None, level=None, pain=1) -> str:
    """The proposal after three sessions alike of the bridge, prescribed at level 2 and done in full at `level`."""
    bridge = replace(hip_plan().items[0], level=2, dose=LADDER[1].dose, leeway="either")
    entry = ItemEntry(BRIDGE, 600, 600, reps, rating, level=level)
    sessions = tuple(
        LoggedSession(UUID(int=day), 0, START + timedelta(days=day), 1, 0, pain, 4, "", (entry,)) for day in range(3)
    )
    course = Course(START, None, (EffectivePlan(1, START, replace(hip_plan(), items=(bridge,))),), sessions=sessions)
    history = item_rules.history(course, item_rules.read(sessions, {}, RULES.edges), bridge)
    return item_rules.decide(bridge, history, LADDER, RULES, pain_rising=False).kind


@pytest.mark.parametrize(
    ("said", "at_its_level", "easier", "harder"),
    [
        ({"rating": "too_easy"}, "progress", "maintain", "progress"),
        ({"reps": 12}, "progress", "maintain", "progress"),
        ({"rating": "too_hard"}, "regress", "regress", "maintain"),
        ({"rating": "too_hard", "pain": 8}, "regress", "regress", "regress"),   # too much pain is never explained away
        ({"rating": "about_right"}, "maintain", "maintain", "maintain"),
    ],
)
def test_an_easier_level_earns_no_step_up_and_a_harder_one_no_step_down(said, at_its_level, easier, harder):
    """Common practice, no source."""
    assert [decided(**said, level=level) for level in (None, 2, 1, 3)] == [at_its_level, at_its_level, easier, harder]
