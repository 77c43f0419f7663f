"""Golden sequences: what was logged, and what the rules propose from it."""

import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest

from programs.following.rules import ruleset
from programs.following.rules.change import Rung
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan
from programs.following.rules.fold import fold
from programs.following.rules.suggest import propose
from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan
from tests.following.conftest import BRIDGE, LEVELS, ROLL, START, STRETCH, done, hip_plan

RULES = ruleset.read(1, json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text()))
LADDERS = {slug: [Rung(number, dose) for number, dose in enumerate(doses, 1)] for slug, (_, doses) in LEVELS.items()}


def session(day: int, *, pain: int | None = 1, before: int | None = None, items=None) -> LoggedSession:
    return LoggedSession(
        UUID(int=500 + day), 0, START + timedelta(days=day), 1, before, pain, 4, "", done() if items is None else items
    )


def proposals(sessions=(), *, today: int, plan=None, **parts):
    """(kind, item key, rule) of everything but `maintain`, and the number of `maintain`."""
    course = Course(START, None, (EffectivePlan(1, START, plan or hip_plan()),), sessions=tuple(sessions), **parts)
    day = START + timedelta(days=today)
    found = propose(course, fold(course, day, RULES.bands), day, RULES, LADDERS)
    for item in course.plans[0].plan.items:   # exactly one per item, whatever else
        assert sum(proposal.item_key == item.key for proposal in found) in ({1} if found else {0})
    return [(p.kind, p.item_key, p.evidence.rule) for p in found if p.kind != "maintain"], found


def rules_of(sessions=(), **parts) -> list[tuple[str, str]]:
    return [(kind, rule) for kind, _, rule in proposals(sessions, **parts)[0]]


def test_an_ordinary_week_proposes_nothing():
    assert rules_of([session(day) for day in range(3)], today=2) == []


def test_two_for_two_proposes_the_next_level_with_its_dose():
    brief, found = proposals([session(day, items=done(reps=12)) for day in range(2)], today=1)
    assert brief == [("progress", BRIDGE, "two_for_two")]
    evidence = next(p.evidence for p in found if p.kind == "progress").to_json()
    assert evidence["observed"] == {"reps": [12, 12], "goal": 10}
    assert evidence["threshold"] == {"extra_reps": 2, "sessions": 2}
    assert "NSCA" in evidence["source"]
    assert [log["day"] for log in evidence["logs"]] == ["2026-03-02", "2026-03-03"]
    assert (evidence["change"]["level_from"], evidence["change"]["level_to"]) == (1, 2)
    assert evidence["change"]["dose_to"]["reps"] == [6, 8]


@pytest.mark.parametrize(
    ("pain", "mornings", "why"),
    [
        (3, (), "pain_holds"),                                        # acceptable, but not for more
        (None, (), "pain_not_rated"),
        (2, (Morning(START + timedelta(days=1), 3, 1),), "pain_next_morning"),
    ],
)
def test_pain_holds_progress_back(pain, mornings, why):
    brief, found = proposals(
        [session(day, pain=pain, before=2, items=done(reps=12)) for day in range(2)], today=2, mornings=mornings
    )
    assert [kind for kind, _, _ in brief if kind == "progress"] == []
    assert next(p.evidence.rule for p in found if p.item_key == BRIDGE) == why


def test_too_easy_three_times_with_all_of_it_done():
    easy = [session(day, items=done(rating="too_easy")) for day in range(3)]
    assert rules_of(easy, today=2) == [("progress", "too_easy")]
    assert rules_of(easy[:2], today=1) == []
    half = [session(day, items=done(rating="too_easy", share=0.5)) for day in range(3)]
    assert rules_of(half, today=2) == []


def test_on_the_highest_level_the_dose_grows_instead():
    top = replace(hip_plan(), items=(replace(hip_plan().items[0], level=3, dose=LEVELS["bridge"][1][2]),))
    enough = [session(day, items=done(reps=10, keys=(BRIDGE,))) for day in range(2)]
    _, found = proposals(enough, today=1, plan=top)
    change = next(p.evidence.change for p in found if p.kind == "progress")
    assert (change["level_from"], change["level_to"], change["dose_to"]["reps"]) == (3, 3, [8, 10])


def test_too_hard_twice_steps_down():
    hard = [session(day, items=done(rating="too_hard")) for day in range(2)]
    assert proposals(hard, today=1)[0] == [("regress", BRIDGE, "too_hard")]


def test_left_out_for_pain_twice_of_three_steps_down():
    skipped = [session(0, items=done(skipped="pain")), session(1), session(2, items=done(skipped="pain"))]
    assert proposals(skipped, today=2)[0] == [("regress", BRIDGE, "skipped_for_pain")]
    assert rules_of(skipped[:2], today=1) == []


def test_too_much_pain_steps_down_the_item_the_answers_point_at():
    assert proposals([session(0, pain=6, items=done(rating="too_hard"))], today=0)[0] == [
        ("regress", BRIDGE, "pain_above_limit")
    ]
    assert rules_of([session(0, pain=5, items=done(rating="too_hard"))], today=0) == []


def test_too_much_pain_that_no_answer_places_asks_for_a_call():
    assert rules_of([session(0, pain=6)], today=0) == [("contact", "pain_unplaced")]


def test_pain_raised_next_morning_asks_for_a_call_as_well():
    raised = (Morning(START, 4, 1),)
    assert rules_of([session(0, pain=3, before=1)], today=1, mornings=raised) == [("contact", "pain_unplaced")]


def test_three_days_without_a_log_in_the_kick_off():
    assert rules_of([session(0)], today=3) == []
    assert rules_of([session(0)], today=4) == [("contact", "silent")]


def test_a_day_logged_as_not_done_is_not_silence():
    nothing = [session(day, items=()) for day in range(5)]
    assert rules_of(nothing, today=4) == [("contact", "little_done")]


def test_twice_the_dose_asks_for_a_call():
    assert rules_of([session(day, items=done(share=4)) for day in range(3)], today=2) == [("contact", "overdose")]


def test_a_week_well_done_may_taper():
    week = [session(day) for day in range(7)]
    assert rules_of(week[:6], today=5) == []
    assert rules_of(week, today=6) == [("taper", "kick_off_done")]


def test_a_week_half_done_gets_more_days():
    brief, found = proposals([session(day) for day in (0, 2, 4, 6)], today=6)
    assert brief == [("extend_kick_off", None, "kick_off_not_yet")]
    assert next(p.evidence.change for p in found if p.kind == "extend_kick_off") == {"days": 3}


def test_pain_in_the_way_of_a_taper_gives_more_days():
    week = [*(session(day) for day in range(6)), session(6, pain=6, items=done(rating="too_hard"))]
    assert ("extend_kick_off", "kick_off_not_yet") in rules_of(week, today=6)


def test_a_kick_off_that_moves_on_by_date_is_not_proposed_to_taper():
    by_date = replace(hip_plan(), phases=(PhasePlan("kick_off", 7, Span(1, 2)), *hip_plan().phases[1:]))
    assert rules_of([session(day) for day in range(7)], today=6, plan=by_date) == []


def test_pain_that_climbs_from_week_to_week_is_looked_at():
    long = replace(hip_plan(), phases=(PhasePlan("maintenance", None, Span(1, 1)),))
    climbing = [session(day, pain=1 + day // 7) for day in range(21)]
    assert rules_of(climbing, today=20, plan=long) == [("reassess", "pain_rising_weekly")]


def test_a_slope_that_is_surely_above_zero_is_looked_at():
    long = replace(hip_plan(), phases=(PhasePlan("maintenance", None, Span(1, 1)),))
    steep = [session(day, pain=pain) for day, pain in enumerate([0, 0, 1, 1, 2, 2, 3, 3, 4, 4])]
    assert rules_of(steep, today=9, plan=long) == [("reassess", "pain_slope")]


@pytest.mark.parametrize(
    ("sessions", "alerts", "rule"),
    [
        ([session(0, pain=8)], 0, "pain_severe"),
        ([session(day, pain=6) for day in range(3)], 0, "pain_keeps_on"),
        ([session(0)], 1, "red_flag"),
    ],
)
def test_pause_and_refer_outranks_the_items(sessions, alerts, rule):
    hard_ones = [replace(s, items=done(rating="too_hard")) for s in sessions]
    assert rules_of(hard_ones, today=2, open_alerts=alerts) == [("pause_and_refer", rule)]


def test_a_paused_program_proposes_nothing():
    assert rules_of([session(0, pain=9)], today=2, pauses=(PauseSpan(START + timedelta(days=1), None),)) == []


def test_a_change_decided_for_tomorrow_is_not_proposed_again_today():
    decided = replace(hip_plan(), items=(replace(hip_plan().items[0], level=2), *hip_plan().items[1:]))
    plans = (EffectivePlan(1, START, hip_plan()), EffectivePlan(2, START + timedelta(days=2), decided))
    course = Course(START, None, plans, sessions=tuple(session(day, items=done(reps=12)) for day in range(2)))
    today = START + timedelta(days=1)
    found = propose(course, fold(course, today, RULES.bands), today, RULES, LADDERS)
    assert {p.item_key: p.kind for p in found} == {BRIDGE: "maintain", STRETCH: "maintain", ROLL: "maintain"}
