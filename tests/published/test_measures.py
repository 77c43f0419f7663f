"""Scoring and change against worked examples in print. Item wording is never needed: structure and numbers only."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from clinic.visits.rules import change
from clinic.visits.rules.scoring import ItemProblem, Structure, score, value_range

TEN_SECTIONS = Structure("percent_of_answered", 10, 0, 5, 9)
QUICKDASH = Structure("scaled_mean", 11, 1, 5, 10)
LEFS = Structure("sum", 20, 0, 4, 20)
PSFS = Structure("mean", 5, 0, 10, 3)

# Weir JP 2005, J Strength Cond Res 19(1):231-240, table of data set A: eight people, two trials
WEIR_A1 = [146, 148, 170, 90, 157, 156, 176, 205]
WEIR_A2 = [140, 152, 152, 99, 145, 153, 167, 218]


def test_ten_sections_with_16_points_of_50_are_32_percent():
    # Fairbank JC, Pynsent PB 2000, Spine 25(22):2940-2952: 16 of 50 points = 32 %
    assert score(TEN_SECTIONS, [2, 2, 2, 2, 2, 2, 1, 1, 1, 1]) == 32.0


def test_one_missing_section_takes_five_points_off_the_most():
    # the same: 16 of 45 points; printed forms cut 35.56 to 35.5
    assert score(TEN_SECTIONS, [2, 2, 2, 2, 2, 2, 2, 1, 1, None]) == pytest.approx(35.56, abs=0.005)


def test_quickdash_with_every_item_2_is_25():
    # ((sum / n) - 1) x 25, at most one of eleven missing: scoring rule of the QuickDASH
    # (Beaton DE et al. 2005, J Bone Joint Surg Am 87:1038-1046, citation from memory); worked out by hand
    assert score(QUICKDASH, [2] * 11) == 25.0
    assert score(QUICKDASH, [2] * 10 + [None]) == 25.0
    assert value_range(QUICKDASH) == (0, 100)
    with pytest.raises(ItemProblem, match="too_few"):
        score(QUICKDASH, [2] * 9)


def test_lefs_runs_from_0_to_80():
    # Binkley JM et al. 1999, Phys Ther 79(4):371-383: twenty items of 0 to 4, sum 0 to 80
    assert score(LEFS, [4] * 20) == 80
    assert score(LEFS, [0] * 20) == 0


def test_psfs_3_4_5_to_6_6_6_is_a_mean_change_of_2():
    # Stratford P et al. 1995, Physiother Can 47:258-263 (mean of the activities, MDC90 2; from memory);
    # 1.3 small and 2.3 medium change: Abbott JH, Schmitt J 2014, JOSPT 44(8):560-564
    before, after = score(PSFS, [3, 4, 5]), score(PSFS, [6, 6, 6])
    assert after - before == 2.0
    assert change.judge(before, after, higher_is_better=True, mdc=2, mcid=1.3).code == "improved_beyond_mcid"
    between = change.judge(before, after, higher_is_better=True, mdc=2, mcid=2.3)
    assert (between.code, between.better) == ("changed_beyond_error", True)


def test_weirs_data_set_a_has_an_error_of_7_6():
    # Weir 2005: SEM as the root of the error mean square = 7.6; the minimal difference is SEM x 1.96 x sqrt 2
    error = change.sem_of_trials(WEIR_A1, WEIR_A2)
    assert round(error, 1) == 7.6
    assert change.mdc_from_sem(error) == pytest.approx(2.77 * error, rel=0.001)
    assert change.mdc_from_sem(1, 90) == pytest.approx(2.326, abs=0.001)


def test_jacobson_and_truax_1991():
    # J Consult Clin Psychol 59(1):12-19: s1 = 7.5, rxx = .80, 32.5 -> 47.5 gives SE 3.35, Sdiff 4.74, RC 3.16;
    # 1.96 x Sdiff = 9.29 (with the printed, rounded 4.74; 9.30 with all digits)
    error = change.sem(7.5, 0.80)
    assert round(error, 2) == 3.35
    assert round(error * math.sqrt(2), 2) == 4.74
    assert round(change.reliable_change(32.5, 47.5, 7.5, 0.80), 2) == 3.16
    assert round(1.96 * round(error * math.sqrt(2), 2), 2) == 9.29
    assert change.smallest_reliable(7.5, 0.80) == pytest.approx(9.29, abs=0.01)


def test_franchignonis_numbers_agree_with_one_another():
    # Franchignoni F et al. 2014, JOSPT 44(1):30-39: MDC90 12.85 with ICC .91; the SD that follows from both is 18.4
    sd = 12.85 / change.mdc_from_sem(change.sem(1, 0.91), 90)
    assert sd == pytest.approx(18.4, abs=0.05)


PRINTED = {
    # code: (MDC, confidence in percent, MCID) as the papers print them
    "pain-now": (2, 95, 2),           # Childs JD et al. 2005, Spine 30(11):1331-1334; Farrar JT et al. 2001, Pain 94:149-158
    "psfs": (2, 90, 2.3),             # Stratford 1995 (from memory); Abbott & Schmitt 2014, medium change
    "lefs": (9, 90, 9),               # Binkley 1999
    "odi": (10, 90, 10),              # Fairbank & Pynsent 2000; Ostelo RW et al. 2008, Spine 33:90-94 (from memory)
    "ndi": (10, None, 14),            # Vernon & Mior 1991 (5 of 50, from memory); Abbott & Schmitt 2014
    "quickdash": (12.85, 90, 15.91),  # Franchignoni 2014
    "dash": (10.81, 90, 10.83),       # Franchignoni 2014
    "grip-strength": (None, None, 5),  # Bohannon RW 2019, J Phys Ther Sci 31:75-78: 5.0 to 6.5 kg (from memory)
    "lunge-distance": (1.9, None, None),   # Powden CJ et al. 2015, Man Ther 20:524-532, same rater
    "lunge-angle": (4.7, None, None),      # the same
}


def test_the_numbers_kept_are_the_numbers_printed():
    kept = json.loads((Path(__file__).parents[2] / "fixtures/measures.json").read_text(encoding="utf-8"))["measures"]
    bounds = {row["code"]: (row["mdc"], row["mdc_confidence"], row["mcid"]) for row in kept}
    assert {code: bounds[code] for code in PRINTED} == PRINTED
    without = {code for code, (mdc, _, mcid) in bounds.items() if mdc is None and mcid is None}
    assert without | set(PRINTED) == set(bounds)


def test_every_measure_that_is_kept_names_a_paper_and_its_year():
    kept = json.loads((Path(__file__).parents[2] / "fixtures/measures.json").read_text(encoding="utf-8"))["measures"]
    assert [row["code"] for row in kept if not any(str(year) in row["source"] for year in range(1985, 2026))] == []
