"""The straight line and the mean against certified and tabulated values.

Norris: NIST Statistical Reference Datasets, Linear Regression, Norris.dat (itl.nist.gov/div898/strd/lls): 36 observations,
certified slope 1.00211681802045, its standard deviation 0.429796848199937E-03, intercept -0.262323073774029. Typed from
memory; the certified values hold only for the right data. Student's t: scipy.
"""

import pytest
from scipy import stats

from programs.following.rules.line import least_squares, mean_interval, t_95

NORRIS = (   # y, x
    (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5), (668.5, 666.3), (998.5, 996.3),
    (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4), (0.1, 0.6), (778.1, 775.5), (668.8, 666.9), (339.3, 338.0),
    (448.9, 447.5), (10.8, 11.6), (557.7, 556.0), (228.3, 228.1), (998.0, 995.8), (888.8, 887.6), (119.6, 120.2),
    (0.3, 0.3), (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2), (998.5, 999.0), (778.9, 779.0), (10.2, 11.1),
    (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9), (0.2, 0.5),
)


def test_norris():
    line = least_squares([(x, y) for y, x in NORRIS])
    assert line.points == 36
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.error == pytest.approx(0.429796848199937e-03, rel=1e-9)
    assert line.height == pytest.approx(-0.262323073774029, rel=1e-9)
    reach = stats.t.ppf(0.975, 34) * line.error
    assert (line.low, line.high) == pytest.approx((line.slope - reach, line.slope + reach), abs=1e-8)


@pytest.mark.parametrize("freedom", [5, 6, 10, 30, 120, 9998])
def test_students_t(freedom):
    assert t_95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=0.005)


def test_too_few_points_have_no_line_and_no_interval():
    assert least_squares([(1, 1)] * 6) is None
    assert least_squares([(1, y) for y in range(9)]) is None      # all at one place
    assert mean_interval([0.5] * 5) is None
    with pytest.raises(ValueError, match="5 degrees"):
        t_95(4)


def test_the_mean_of_shares_stays_between_none_and_all():
    values = [1.0, 1.0, 1.0, 1.0, 1.0, 0.4]
    mean, low, high = mean_interval(values)
    assert mean == pytest.approx(0.9)
    assert low == pytest.approx(stats.t.interval(0.95, 5, 0.9, stats.sem(values))[0], abs=0.002)
    assert high == 1.0
