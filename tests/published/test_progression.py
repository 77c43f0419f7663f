"""The 2-for-2 rule: two or more repetitions above the goal, in the last set, in two sessions in a row.

Baechle TR, Earle RW (eds), Essentials of Strength Training and Conditioning, NSCA. The first row is a worked example printed
with the rule (goal 3 x 10, last sets 12 and 12: increase); the others follow from its wording. ACSM's position stand
(Ratamess NA et al. 2009, Med Sci Sports Exerc 41(3):687-708) asks for one or two repetitions above and no number of
sessions; the program's rules follow the stricter.
"""

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from uuid import UUID

import pytest

from programs.following.rules import item_rules, ruleset
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, EffectivePlan, LoggedSession
from programs.following.rules.entry import ItemEntry
from programs.library.rules.dose import Reps, Span
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan

RULES = ruleset.read(1, json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text()))
KEY, START = UUID(int=7), date(2026, 3, 2)


def kind_after(sets: int, goal: int, last_sets: list[int], extra: int = 2) -> str:
    """What the rules say after sessions with these repetitions in the last set."""
    dose = Reps(Span(sets, sets), Span(goal, goal))
    item = ItemPlan(KEY, "squat", 1, dose)
    plan = Plan(START, (PhasePlan("kick_off", 14, Span(1, 1)),), (item,))
    sessions = tuple(
        LoggedSession(
            UUID(int=100 + index), 0, START + timedelta(days=index), 1, 0, 1, 4, "",
            (ItemEntry(KEY, done_left=item.work("full"), reps_last_set=reps),),
        )
        for index, reps in enumerate(last_sets)
    )
    course = Course(START, None, (EffectivePlan(1, START, plan),), sessions=sessions)
    rules = replace(RULES, numbers={**RULES.numbers, "progress.extra_reps": extra})
    past = item_rules.history(course, item_rules.read(sessions, {}, rules.edges), item)
    ladder = [Rung(1, dose), Rung(2, dose)]
    return item_rules.decide(item, past, ladder, rules, pain_rising=False).kind


@pytest.mark.parametrize(
    ("sets", "goal", "last_sets", "expected"),
    [
        (3, 10, [12, 12], "progress"),     # printed
        (3, 10, [12, 11], "maintain"),     # the second session has one above only
        (3, 10, [10, 12], "maintain"),     # two in a row are needed
        (4, 8, [10, 10], "progress"),
        (3, 10, [13, 14], "progress"),     # two or more
        (3, 10, [12], "maintain"),         # one session is not two
        (3, 10, [12, 9, 12], "maintain"),  # not in a row
    ],
)
def test_two_for_two(sets, goal, last_sets, expected):
    assert kind_after(sets, goal, last_sets) == expected


def test_a_clinic_can_follow_the_laxer_reading():
    assert kind_after(3, 10, [11, 11]) == "maintain"
    assert kind_after(3, 10, [11, 11], extra=1) == "progress"


def test_the_rule_set_names_the_book():
    assert "NSCA" in RULES.sources["progress.extra_reps"]
