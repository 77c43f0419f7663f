"""Pre-participation screening, every cell: Riebe D et al. 2015, Med Sci Sports Exerc 47(11):2473-2479 (the two diagrams).

Read from a summary of the paper; that a clearance counts for twelve months and that one is asked for only before vigorous
exercise in who is active with a known disease is from memory of it.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from programs.prescribing.rules.screening import TABLE, Answers, advice, gate

TODAY = date(2026, 3, 2)
# active, known disease, signs or symptoms -> (clearance before light to moderate, before vigorous, stop what is done now)
CELLS = [
    (False, False, False, False, False, False),   # no clearance needed; light to moderate, may build up to vigorous
    (False, True, False, True, True, False),      # clearance recommended; after it light to moderate
    (False, False, True, True, True, False),      # clearance recommended, disease or not
    (False, True, True, True, True, False),
    (True, False, False, False, False, False),    # none needed; go on, light to vigorous
    (True, True, False, False, True, False),      # none for light to moderate; before vigorous
    (True, False, True, True, True, True),        # stop exercise, get clearance, disease or not
    (True, True, True, True, True, True),
]


def test_the_table_has_every_cell():
    assert len(CELLS) == len(TABLE) == 8
    assert {cell[:3] for cell in CELLS} == set(TABLE)


@pytest.mark.parametrize(("active", "disease", "signs", "before_moderate", "before_vigorous", "stops"), CELLS)
def test_a_cell(active, disease, signs, before_moderate, before_vigorous, stops):
    for intensity, clearance in (("light_moderate", before_moderate), ("vigorous", before_vigorous)):
        found = advice(active=active, disease=disease, signs=signs, intensity=intensity)
        assert (found in ("clear_first", "stop_and_clear")) == clearance
        assert (found == "stop_and_clear") == stops
        held = gate(Answers(TODAY, active, disease, signs, False, intensity), TODAY, 365)
        assert held.is_open != clearance


def test_who_is_not_active_begins_light_to_moderate_and_builds_up():
    assert advice(active=False, disease=False, signs=False, intensity="vigorous") == "build_up"
    assert advice(active=True, disease=False, signs=False, intensity="vigorous") == "go"


@pytest.mark.parametrize(("days", "is_open"), [(0, True), (365, True), (366, False)])
def test_a_clearance_counts_for_twelve_months(days, is_open):
    answers = Answers(TODAY, True, True, False, False, "vigorous", cleared_on=TODAY - timedelta(days=days))
    assert gate(answers, TODAY, 365).is_open is is_open


def test_after_clearance_exercise_begins_light_to_moderate_unless_it_only_goes_on():
    yes = {"cleared_on": TODAY, "intensity": "vigorous"}
    assert gate(Answers(TODAY, False, True, False, False, **yes), TODAY, 365).advice == "build_up"
    assert gate(Answers(TODAY, True, False, True, False, **yes), TODAY, 365).advice == "build_up"
    assert gate(Answers(TODAY, True, True, False, False, **yes), TODAY, 365).advice == "go"
