"""Slope and moving average against printed examples and against a reference library."""

import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter
from scipy.stats import norm, theilslopes

from programs.following.rules.trend import ewma, ewma_limits, shift, shift_since_start, theil_sen

# Sen PK 1968, J Am Stat Assoc 63:1379-1389: the worked example, slope 4, 93 % limits 26/7 and 35/8
SEN = list(zip([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78], strict=True))

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: lambda 0.3, start 50, s 2.0539
NIST = [52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
NIST_EWMA = [
    50.00, 50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
    50.73, 51.23, 51.94, 51.99,
]


def test_slope_and_limits_of_sens_own_example():
    slope = theil_sen(SEN, z=norm.ppf(1 - 0.07 / 2))
    assert slope.value == 4
    assert slope.low == pytest.approx(26 / 7)
    assert slope.high == pytest.approx(35 / 8)


@settings(deadline=None, max_examples=60)   # a busy machine is not a fault
@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 10)), min_size=3, max_size=14))
def test_slope_and_limits_agree_with_scipy(points):
    days, pains = zip(*points, strict=True)
    if len(set(days)) < 2:
        assert theil_sen(points) is None
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)   # scipy takes the root of a variance that ties made negative
        reference = theilslopes(pains, days, 0.95)
    slope = theil_sen(points)
    assert slope.value == pytest.approx(reference[0])
    if reference[2] == reference[2]:   # a number: with ties only, scipy has none
        assert (slope.low, slope.high) == pytest.approx((reference[2], reference[3]))


def test_one_wild_answer_cannot_tilt_the_slope():
    calm = [(float(day), 2.0) for day in range(9)]
    assert theil_sen([*calm, (9.0, 10.0)]).value == 0


def test_moving_average_is_the_handbooks():
    assert ewma(NIST, 50, 0.3) == pytest.approx(NIST_EWMA, abs=5.1e-3)


@settings(deadline=None, max_examples=60)   # a busy machine is not a fault
@given(st.lists(st.floats(0, 10), min_size=1, max_size=60), st.floats(0, 10), st.floats(0.05, 1))
def test_moving_average_agrees_with_a_digital_filter(values, start, weight):
    reference, _ = lfilter([weight], [1, weight - 1], values, zi=[(1 - weight) * start])
    assert ewma(values, start, weight)[1:] == pytest.approx(list(reference), abs=1e-9)


def test_chart_limits_are_the_handbooks():
    low, high = ewma_limits(50, 2.0539, 0.3)
    assert high == pytest.approx(52.5884, abs=1e-4)
    assert low == pytest.approx(47.4115, abs=2e-4)   # the handbook cuts off 47.4116
    assert all(low < value < high for value in ewma(NIST, 50, 0.3))


def test_the_handbooks_process_has_not_shifted_and_a_moved_one_has():
    assert shift(NIST, 50, 2.0539) == 0
    assert shift([value + 3 for value in NIST], 50, 2.0539) == 1
    assert shift([value - 5 for value in NIST], 50, 2.0539) == -1


def test_a_shift_needs_a_week_to_stand_on_and_three_answers_after_it():
    week = [3, 2, 3, 4, 3, 2, 4]
    assert shift_since_start([*week, 7, 7]) is None
    assert shift_since_start([*week, 7, 7, 7]) == 1
    assert shift_since_start([*week, 3, 2, 4]) == 0
    assert shift_since_start([*[4] * 7, 1, 1, 1, 0]) == -1     # a flat first week does not make every point a shift
    assert shift_since_start([*[4] * 7, 5, 4, 4]) == 0


@pytest.mark.parametrize("weight", [0, -0.1, 1.1])
def test_a_weight_outside_0_1_is_refused_by_name(weight):
    with pytest.raises(ValueError, match="weight must be"):
        ewma([1.0], 0.0, weight)
