import json
from copy import deepcopy
from datetime import date
from pathlib import Path
from uuid import uuid4

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from programs.library.rules.dose import Continuous, Hold, Reps, Roll, Span
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from programs.prescribing.rules.plan_json import PlanError, plan_from_json, plan_to_json

DAY = date(2026, 3, 2)
GOOD = {
    "phases": [
        {"kind": "kick_off", "days": 7, "sessions": [1, 2], "days_per_week": 7, "advance": "by_decision"},
        {"kind": "maintenance", "days": None, "sessions": 1, "days_per_week": 2},
    ],
    "items": [
        {"exercise": "clamshell", "level": 1, "side": "each", "priority": 1,
         "dose": {"type": "reps", "sets": [1, 2], "reps": 10, "tempo": 4}},
    ],
}


def spans(most):
    return st.tuples(st.integers(1, most), st.integers(1, most)).map(lambda pair: Span(min(pair), max(pair)))


doses = st.one_of(
    st.builds(Hold, spans(10), spans(60), st.integers(0, 60)),
    st.builds(Reps, spans(5), spans(30), st.integers(1, 10), st.integers(0, 60)),
    st.builds(Roll, spans(5), spans(120), st.integers(1, 10), st.integers(0, 60)),
    st.builds(Continuous, spans(60)),
)
items = st.builds(
    ItemPlan, st.uuids(), st.sampled_from(["clamshell", "bridge"]), st.integers(1, 5), doses,
    st.sampled_from(["both", "each", "alternating", "left", "right"]), spans(3), st.integers(0, 60), st.integers(1, 9),
    st.text(st.characters(min_codepoint=32, exclude_categories=["Cs"]), max_size=40),
)
phases = st.builds(
    PhasePlan, st.sampled_from(["kick_off", "taper", "maintenance"]), st.one_of(st.none(), st.integers(1, 366)), spans(6),
    st.integers(1, 7), st.sampled_from(["by_date", "by_decision"]),
)


@settings(max_examples=50)
@given(st.lists(phases, max_size=4).map(tuple), st.lists(items, max_size=4).map(tuple))
def test_a_plan_survives_writing_and_reading(some_phases, some_items):
    plan = Plan(DAY, some_phases, some_items)
    assert plan_from_json(json.loads(json.dumps(plan_to_json(plan))), DAY) == plan


def test_items_without_a_key_get_the_same_one_every_time_and_each_its_own():
    twice = {**GOOD, "items": GOOD["items"] * 2}
    first, again = plan_from_json(twice, DAY), plan_from_json(twice, DAY)
    assert first == again
    assert first.items[0].key != first.items[1].key


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("phases.0.kind", "warm_up"),
        ("phases.0.days", 0),
        ("phases.0.days", "seven"),
        ("phases.0.days", True),
        ("phases.0.sessions", [2, 1]),
        ("phases.0.sessions", [1, 2, 3]),
        ("phases.0.days_per_week", 8),
        ("phases.0.advance", "never"),
        ("phases.1.colour", "blue"),
        ("items.0.exercise", ""),
        ("items.0.level", 0),
        ("items.0.level", "1"),
        ("items.0.side", "middle"),
        ("items.0.rounds", 11),
        ("items.0.priority", 10),
        ("items.0.note", "x" * 201),
        ("items.0.note", "two\nlines"),
        ("items.0.key", "not a key"),
        ("items.0.dose.sets", [3, 2]),
        ("items.0.dose.type", "dance"),
        ("items.0.dose.reps", None),
        ("items.0.dose.tempo", 31),
        ("items.0.dose.speed", 3),
    ],
)
def test_what_cannot_be_read_is_named_by_its_path(path, value):
    data = deepcopy(GOOD)
    *way, last = path.split(".")
    place = data
    for part in way:
        place = place[int(part)] if part.isdigit() else place[part]
    place[last] = value
    with pytest.raises(PlanError) as refused:
        plan_from_json(data, DAY)
    assert list(refused.value.fields) == [path]


@pytest.mark.parametrize("data", [None, [], "plan", {"phases": 3, "items": []}, {"phases": [], "items": ["x"]}])
def test_something_else_altogether_is_refused(data):
    with pytest.raises(PlanError):
        plan_from_json(data, DAY)


def test_ten_thousand_steps_are_one_field_error():
    with pytest.raises(PlanError) as refused:
        plan_from_json({**GOOD, "phases": GOOD["phases"] * 5000}, DAY)
    assert set(refused.value.fields) == {"phases"}


def test_every_fault_is_reported_at_once():
    data = deepcopy(GOOD)
    data["phases"][0]["days"] = -1
    data["items"][0]["level"] = None
    with pytest.raises(PlanError) as refused:
        plan_from_json(data, DAY)
    assert set(refused.value.fields) == {"phases.0.days", "items.0.level"}


def test_a_long_value_is_not_quoted_back_in_full():
    data = deepcopy(GOOD)
    data["phases"][0]["kind"] = "x" * 5000
    with pytest.raises(PlanError) as refused:
        plan_from_json(data, DAY)
    assert len(str(refused.value)) < 200


@pytest.mark.parametrize("file", sorted(Path("fixtures/templates").glob("*.json")), ids=lambda file: file.stem)
def test_the_house_templates_can_be_read(file):
    plan = plan_from_json(json.loads(file.read_text())["plan"], DAY)
    assert plan.phases[0].kind == "kick_off"
    assert plan.phases[-1].days is None
    assert len({item.key for item in plan.items} | {uuid4()}) == len(plan.items) + 1
