"""What every exercise of the shipped library says."""

import json
from collections import Counter

import pytest

from clinic.people.vocab import ConditionCode, Region
from programs.library.actions.load_library import FOLDER
from programs.library.vocab import Equipment, Kind

SHIPPED = [
    (data["region"], entry)
    for path in sorted(FOLDER.glob("*.json"))
    for data in [json.loads(path.read_text(encoding="utf-8"))]
    for entry in data["exercises"]
]
EACH = pytest.mark.parametrize(("region", "entry"), SHIPPED, ids=[entry["slug"] for _, entry in SHIPPED])


def test_there_are_at_least_ninety_with_names_of_their_own():
    assert len(SHIPPED) >= 90
    for part in ("slug", "name"):
        assert [name for name, count in Counter(entry[part] for _, entry in SHIPPED).items() if count > 1] == []


def test_every_region_has_at_least_eight_and_at_least_four_kinds():
    for region in Region.values:
        kinds = [entry["kind"] for place, entry in SHIPPED if place == region]
        assert len(kinds) >= 8, region
        assert len(set(kinds)) >= 4, region


def test_every_kind_is_there_more_than_a_few_times():
    counts = Counter(entry["kind"] for _, entry in SHIPPED)
    assert {kind: counts[kind] for kind in Kind.values if counts[kind] < 6} == {}


def test_all_that_can_be_needed_is_used():
    assert {word for _, entry in SHIPPED for word in entry["equipment"]} == set(Equipment.values)


def test_every_condition_but_none_in_vain_speaks_against_something():
    assert {row["condition"] for _, entry in SHIPPED for row in entry["precautions"]} == set(ConditionCode.values)


@EACH
def test_it_has_an_easier_and_a_harder_level_that_says_why(region, entry):
    levels = entry["levels"]
    assert 2 <= len(levels) <= 3
    assert levels[0]["harder_because"] == ""
    assert all(level["harder_because"].endswith(".") for level in levels[1:])
    assert len({level["name"] for level in levels}) == len(levels)
    assert len({json.dumps(level["drawing"], sort_keys=True) for level in levels}) == len(levels)   # each has its own picture


@EACH
def test_it_says_how_how_much_and_what_to_feel(region, entry):
    assert entry["setup"].endswith(".")
    assert entry["feel"].endswith(".")
    assert entry["not_feel"].endswith(".")
    assert entry["precautions"]
    for level in entry["levels"]:
        assert 3 <= len(level["cues"]) <= 5
        assert all(cue.endswith((".", "?", "!")) and len(cue.split()) <= 14 for cue in level["cues"])
        spans = [value for value in level["dose"].values() if isinstance(value, list)]
        assert any(low < high for low, high in spans)      # a range somewhere
        assert all(low <= high for low, high in spans)


@EACH
def test_a_later_level_never_asks_for_less(region, entry):
    firsts = [next(value for value in level["dose"].values() if isinstance(value, list)) for level in entry["levels"]]
    assert firsts == sorted(firsts)


@EACH
def test_what_the_drawing_shows_is_what_is_needed(region, entry):
    shown = {prop["prop"] for level in entry["levels"] for prop in level["drawing"].get("props", [])}
    for thing in ("roller", "step"):
        assert (thing in shown) == (thing in entry["equipment"])


@EACH
def test_a_dose_has_a_source_or_says_that_it_has_none(region, entry):
    assert entry["source"] in {"", "Common practice, no source"} or "20" in entry["source"]
    if entry["kind"] in {"rolling", "aerobic"}:
        assert "20" in entry["source"]
