"""Worked stories of a caseload, from the first log to the last: what the rules make of each day. All of them are invented."""

from dataclasses import replace

import pytest

from programs.following.rules.breakdown import by_item
from programs.following.rules.change import item_of
from programs.following.rules.fold import fold
from tests.following.stories import KEYS, NAMES, RULES, STORIES, Teller, on, read

EXPECTED = {"band", "phase", "suggests", "share", "silent", "reasons", "why", "level", "reps", "ratio", "uneven"}


def said(proposal) -> str:
    """`regress bridge too_hard`, `contact silent`."""
    return " ".join(part for part in (proposal.kind, NAMES.get(proposal.item_key), proposal.evidence.rule) if part)


def seen(course, folded, proposals, expected: dict) -> dict:
    """Of a day, the parts something is expected of."""
    state, plan = folded.state, course.plan_on(folded.days[-1].day).plan
    parts = {part.item_key: part for part in by_item(course)}
    rules = {each.item_key: each.evidence.rule for each in proposals}
    share = next((each for each in (state.adherence_7, state.adherence_all) if each is not None), None)
    return {
        "band": state.band, "phase": state.phase_kind, "silent": state.silent_days,
        "share": None if share is None else round(100 * share),
        "suggests": [said(each) for each in proposals if each.kind != "maintain"],
        "reasons": [reason["code"] for reason in state.reasons],
        "why": {name: rules[KEYS[name]] for name in expected.get("why", ())},
        "level": {name: item_of(plan, KEYS[name]).level for name in expected.get("level", ())},
        "reps": {name: item_of(plan, KEYS[name]).dose.reps.full for name in expected.get("reps", ())},
        "ratio": {name: parts[KEYS[name]].ratio for name in expected.get("ratio", ())},
        "uneven": [NAMES[key] for key, part in parts.items() if part.uneven],
    }


def test_there_are_at_least_25_and_each_says_why():
    stories = [read(path) for path in STORIES]
    assert len(stories) >= 25
    assert [story["name"] for story in stories] == [path.stem for path in STORIES]
    assert [story["name"] for story in stories if len(story["why"]) < 40] == []
    assert {name for story in stories for day in story["expect"].values() for name in day} <= EXPECTED


def test_between_them_they_meet_every_kind_of_suggestion_and_every_band():
    days = [day for path in STORIES for day in read(path)["expect"].values()]
    assert {text.split()[0] for day in days for text in day.get("suggests", ())} == {
        "progress", "regress", "taper", "extend_kick_off", "contact", "reassess", "pause_and_refer"
    }
    assert {day["band"] for day in days if "band" in day} == {"on_track", "partly", "low", "silent", "new", "paused"}


@pytest.mark.parametrize("path", STORIES, ids=lambda path: path.stem)
def test_story(path):
    story = read(path)
    for day, course, folded, proposals in Teller(story).tell():
        keys = [each.item_key for each in proposals if each.item_key]
        assert keys == ([item.key for item in course.newest.plan.items] if proposals else []), day   # one per exercise
        expected = story["expect"].get(str(day))
        if expected is None:
            continue
        found = seen(course, folded, proposals, expected)
        assert {name: found[name] for name in expected} == expected, f"day {day}"
        shuffled = replace(
            course, sessions=(*course.sessions[::-1], *course.sessions), mornings=course.mornings[::-1],
            plans=course.plans[::-1],
        )
        assert fold(shuffled, on(day), RULES.bands) == folded, f"day {day}, in another order and twice"
