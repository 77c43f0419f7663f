"""Every measure that is shipped, scored: one worked example each, from the scoring rule its source gives.

Sources stand beside each measure in fixtures/measures.json. Where no example is printed the arithmetic of the rule was done
by hand. Error of measurement against a reference library: Weir JP 2005, J Strength Cond Res 19(1):231-240.
"""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from clinic.visits.rules import change
from clinic.visits.rules.scoring import ItemProblem, Structure, score, value_range

MEASURES = json.loads((Path(__file__).parents[2] / "fixtures/measures.json").read_text(encoding="utf-8"))["measures"]
BY_CODE = {row["code"]: row for row in MEASURES}
EXAMPLES = {
    "pain-now": ([4], 4, (0, 10)),
    "psfs": ([3, 4, 5], 4, (0, 10)),                             # mean of the activities named
    "lefs": ([3] * 10 + [2] * 10, 50, (0, 80)),
    "odi": ([2] * 6 + [1] * 4, 32, (0, 100)),                    # 16 of 50, printed with the form
    "ndi": ([2] * 7 + [1] * 2 + [None], 100 * 16 / 45, (0, 100)),  # 16 of 45: one section not answered
    "quickdash": ([2] * 11, 25, (0, 100)),
    "chair-stand-30s": ([13], 13, (0, 60)),
    "hip-flexion": ([118], 118, (-30, 180)),
    "hip-extension": ([12], 12, (-60, 60)),
    "knee-flexion": ([135], 135, (0, 180)),
    "lunge-distance": ([9.5], 9.5, (0, 30)),
    "single-leg-stance": ([31.5], 31.5, (0, 45)),
    "dash": ([2] * 27 + [None] * 3, 25, (0, 100)),               # the same formula as the short form, 3 of 30 missing
    "grip-strength": ([31], 31, (0, 120)),
    "single-leg-bridge": ([24], 24, (0, 100)),
    "lunge-angle": ([38], 38, (0, 70)),
    "elbow-extension": ([-2], -2, (-90, 30)),
}


def structure(row) -> Structure:
    return Structure(row["scoring"], row["items"], row["item_minimum"], row["item_maximum"], row["minimum_answered"])


@pytest.mark.parametrize("code", EXAMPLES)
def test_scored_as_its_source_says(code):
    items, value, ends = EXAMPLES[code]
    held = structure(BY_CODE[code])
    assert score(held, items) == pytest.approx(value)
    assert value_range(held) == ends


@pytest.mark.parametrize("row", MEASURES, ids=lambda row: row["code"])
def test_every_shipped_measure_refuses_one_answer_too_few_and_one_out_of_range(row):
    held = structure(row)
    with pytest.raises(ItemProblem, match="too_few"):
        score(held, [row["item_maximum"]] * (row["minimum_answered"] - 1))
    with pytest.raises(ItemProblem, match="out_of_range"):
        score(held, [row["item_maximum"] + 1] * row["items"])


def test_every_shipped_measure_has_an_example_or_is_one_number_as_it_stands():
    assert set(EXAMPLES) <= set(BY_CODE)
    for code in set(BY_CODE) - set(EXAMPLES):
        held = structure(BY_CODE[code])
        assert held.scoring == "single", code
        assert score(held, [held.maximum]) == held.maximum


numbers = st.floats(0, 100).map(lambda value: round(value, 2))


@settings(deadline=None, max_examples=60)   # a busy machine is not a fault
@given(st.lists(st.tuples(numbers, numbers), min_size=2, max_size=20))
def test_the_error_of_two_trials_is_the_root_of_the_error_mean_square(trials):
    table = np.array(trials)
    rows, columns = table.mean(axis=1, keepdims=True), table.mean(axis=0, keepdims=True)
    residual = table - rows - columns + table.mean()
    expected = math.sqrt((residual ** 2).sum() / (len(trials) - 1))   # two-way: people by trials
    first, second = zip(*trials, strict=True)
    assert change.sem_of_trials(first, second) == pytest.approx(expected, abs=1e-9)


def test_the_quantiles_of_minimal_detectable_change():
    for confidence in (90, 95):
        exact = norm.ppf(0.5 + confidence / 200) * math.sqrt(2)
        assert change.mdc_from_sem(1, confidence) == pytest.approx(exact, abs=5e-4)


@given(st.floats(0.5, 20), st.floats(0, 0.98), numbers, numbers)
def test_a_change_is_reliable_exactly_where_it_passes_the_smallest_reliable_one(sd, reliability, before, after):
    # Jacobson NS, Truax P 1991, J Consult Clin Psychol 59(1):12-19
    index = change.reliable_change(before, after, sd, reliability)
    assert index * change.smallest_reliable(sd, reliability) / 1.96 == pytest.approx(after - before, abs=1e-9)


@given(st.floats(-40, 40), st.floats(0.5, 20), st.floats(0, 0.98))
def test_the_index_from_a_printed_mdc_is_the_index_from_sd_and_reliability(difference, sd, reliability):
    # the MDC of Weir 2005 and the index of Jacobson & Truax 1991 divide by the same standard error of the difference
    for confidence in (90, 95):
        printed = change.mdc_from_sem(change.sem(sd, reliability), confidence)
        index = change.reliable_change(0, difference, sd, reliability)
        assert change.reliable_index(difference, printed, confidence) == pytest.approx(index, abs=1e-9)


def test_franchignonis_quickdash_change_is_reliable_from_its_mdc95_on():
    # MDC90 12.85 (Franchignoni 2014) is SEM 5.52; 1.96 x sqrt(2) x 5.52 = 15.3 is the smallest change reliable at 95 %
    row = BY_CODE["quickdash"]
    assert change.reliable_index(15.4, row["mdc"], row["mdc_confidence"]) > 1.96
    assert change.reliable_index(15.2, row["mdc"], row["mdc_confidence"]) < 1.96
    with pytest.raises(ValueError, match="above 0"):
        change.reliable_index(3, 0, 90)
