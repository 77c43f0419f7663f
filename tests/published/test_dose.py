"""Stretch, rolling and strength doses against the published ranges.

Stretching: Garber CE et al. 2011, Med Sci Sports Exerc 43(7):1334-1359. Sixty seconds an exercise in holds of 10 to 30 s, two
to four times, on at least two days a week.
Rolling: Behm DG et al. 2020, J Strength Cond Res 34(11):3301-3308. One to three sets of 30 to 120 s at 2 to 4 s a
one-way pass.
Cautions: Bartsch KM et al. 2021, J Clin Med 10(22):5360.
Strength sets and repetitions: Garber 2011, table, from memory.
"""

import json
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings

from programs.library.rules.dose import Hold, Reps, Roll, Span, dose_from_json
from programs.library.rules.guideline import check, holds_needed, strokes
from programs.prescribing.rules.plan import ItemPlan

ONCE = Span(1, 1)
FILES = sorted((Path(settings.ROOT) / "fixtures" / "library").glob("*.json"))
SHIPPED = [entry for path in FILES for entry in json.loads(path.read_text(encoding="utf-8"))["exercises"]]


def codes(kind, dose, *, side="each", rounds=ONCE, sessions=ONCE, days=3):
    return {finding.what: finding.code for finding in check(kind, side, dose, rounds, sessions, days)}


@pytest.mark.parametrize(("seconds", "holds"), [(15, 4), (20, 3), (30, 2), (60, 1), (10, 6)])
def test_how_many_holds_make_sixty_seconds(seconds, holds):
    assert holds_needed(seconds) == holds


def test_ten_second_holds_cannot_reach_sixty_seconds_in_four():
    assert codes("static_stretch", Hold(Span(4, 4), Span(10, 10))) == {
        "total": "under", "hold": "within", "holds": "within", "days": "within",
    }
    assert codes("static_stretch", Hold(Span(6, 6), Span(10, 10)))["holds"] == "over"


@pytest.mark.parametrize(("holds", "seconds"), [(4, 15), (3, 20), (2, 30)])
def test_the_usual_ways_to_sixty_seconds_are_within(holds, seconds):
    assert set(codes("static_stretch", Hold(Span(holds, holds), Span(seconds, seconds))).values()) == {"within"}


def test_one_day_a_week_is_under_and_two_are_within():
    dose = Hold(Span(2, 2), Span(30, 30))
    assert codes("static_stretch", dose, days=1)["days"] == "under"
    assert codes("static_stretch", dose, days=2)["days"] == "within"


def test_twice_a_day_counts_towards_the_total_and_alternating_halves_it():
    dose = Hold(Span(2, 2), Span(15, 15))
    assert codes("static_stretch", dose)["total"] == "under"
    assert codes("static_stretch", dose, sessions=Span(2, 2))["total"] == "within"
    assert codes("static_stretch", dose, sessions=Span(2, 2), side="alternating")["total"] == "under"


def test_ninety_seconds_at_three_a_pass_are_thirty_passes():
    assert strokes(Roll(ONCE, Span(90, 90), pass_seconds=3), "full") == 30


def test_the_slowest_and_the_fastest_set_of_the_range():
    assert strokes(Roll(ONCE, Span(30, 30), pass_seconds=4), "full") == 7.5
    assert strokes(Roll(ONCE, Span(120, 120), pass_seconds=2), "full") == 60


def test_the_most_rolling_for_one_pair_of_muscles_is_twelve_minutes():
    item = ItemPlan(uuid4(), "roll-calf", 3, Roll(Span(3, 3), Span(120, 120)), side="each")
    assert item.work("full") == 12 * 60


@pytest.mark.parametrize(
    ("dose", "what", "code"),
    [
        (Roll(Span(1, 1), Span(20, 20)), "seconds", "under"),
        (Roll(Span(1, 1), Span(30, 30)), "seconds", "within"),
        (Roll(Span(3, 3), Span(120, 120)), "seconds", "within"),
        (Roll(Span(3, 3), Span(121, 121)), "seconds", "over"),
        (Roll(Span(4, 4), Span(60, 60)), "sets", "over"),
        (Roll(Span(3, 3), Span(60, 60)), "sets", "within"),
        (Roll(Span(1, 1), Span(60, 60), pass_seconds=1), "stroke", "under"),
        (Roll(Span(1, 1), Span(60, 60), pass_seconds=5), "stroke", "over"),
    ],
)
def test_rolling_at_the_edges_of_the_range(dose, what, code):
    assert codes("rolling", dose)[what] == code


def test_strength_sets_repetitions_and_days():
    dose = Reps(Span(3, 3), Span(10, 10))
    assert codes("strength", dose) == {"sets": "within", "reps": "within", "days": "within"}
    assert codes("strength", Reps(Span(1, 1), Span(15, 15)), days=7) == {"sets": "under", "reps": "over", "days": "over"}


def usual(entry):
    return entry["levels"][1]


@pytest.mark.parametrize("entry", [e for e in SHIPPED if e["kind"] in {"static_stretch", "rolling"}], ids=lambda e: e["slug"])
def test_every_stretch_and_rolling_dose_of_the_library_is_within_at_its_full_end(entry):
    found = check(entry["kind"], entry["side"], dose_from_json(usual(entry)["dose"]), ONCE, ONCE, 7)
    assert len(found) >= 3
    assert [(f.what, f.observed) for f in found if f.code != "within"] == []


def test_every_finding_names_its_source():
    for entry in SHIPPED:
        found = check(entry["kind"], entry["side"], dose_from_json(usual(entry)["dose"]), ONCE, ONCE, 3)
        assert all(len(finding.source) > 20 for finding in found)
        assert bool(found) == (entry["kind"] != "dynamic_stretch"), entry["slug"]
