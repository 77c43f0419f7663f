"""Wilson's interval against a published table and against a reference library."""

import pytest
from scipy.stats import binomtest

from programs.following.rules.intervals import wilson

# Newcombe RG 1998, Stat Med 17:857-872, Table I, method 3 (score without continuity correction), 95 %, four decimals
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (0, 20, 0.0, 0.1611),
    (0, 10, 0.0, 0.2775),
    (10, 10, 0.7225, 1.0),
]


@pytest.mark.parametrize(("done", "asked", "low", "high"), NEWCOMBE)
def test_limits_are_those_of_the_printed_table(done, asked, low, high):
    assert wilson(done, asked) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize("asked", [1, 2, 7, 14, 53, 180])
def test_limits_agree_with_scipy_at_every_count(asked):
    for done in range(asked + 1):
        reference = binomtest(done, asked).proportion_ci(confidence_level=0.95, method="wilson")
        assert wilson(done, asked) == pytest.approx((reference.low, reference.high), abs=1e-12)


def test_there_is_no_estimate_without_anything_asked():
    assert wilson(0, 0) is None


@pytest.mark.parametrize(("done", "asked"), [(-1, 3), (4, 3), (1, 0)])
def test_more_done_than_asked_is_refused_by_name(done, asked):
    with pytest.raises(ValueError, match="done must lie between 0 and asked"):
        wilson(done, asked)
