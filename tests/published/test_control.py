"""The control chart of shares against the engineering statistics handbook's worked data."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.booking.rules.control import p_chart

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2: 30 wafers of 50 chips, chips with a fault on each
WAFERS = [
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6,
]


def test_centre_limits_and_signals_are_the_handbooks():
    chart = p_chart(WAFERS, [50] * 30)
    assert chart.centre == pytest.approx(0.2313, abs=1e-4)
    assert {(round(sample.low, 4), round(sample.high, 4)) for sample in chart.samples} == {(0.0524, 0.4102)}
    assert [place + 1 for place in chart.signals] == [15, 23]
    assert all(sample.signal == 1 for sample in chart.samples if sample.signal)


def test_a_smaller_sample_has_wider_limits_and_none_below_zero():
    chart = p_chart([5, 1, 0], [100, 10, 0])
    large, small, none = chart.samples
    assert small.high > large.high
    assert small.low == 0
    assert (none.share, none.low, none.high, none.signal) == (None, None, None, 0)   # no visit is not no no-show


def test_a_share_below_the_lower_limit_is_a_signal_too():
    chart = p_chart([30, 30, 30, 1], [100, 100, 100, 100])
    assert [sample.signal for sample in chart.samples] == [0, 0, 0, -1]


@settings(max_examples=40)
@given(st.lists(st.integers(0, 60).flatmap(lambda size: st.tuples(st.integers(0, size), st.just(size))), max_size=20))
def test_the_centre_is_the_share_of_all_and_lies_within_every_limit(pairs):
    chart = p_chart([count for count, _ in pairs], [size for _, size in pairs])
    if not sum(size for _, size in pairs):
        assert chart.centre is None
        assert chart.signals == []
        return
    assert chart.centre == pytest.approx(sum(count for count, _ in pairs) / sum(size for _, size in pairs))
    for sample in chart.samples:
        if sample.share is not None:
            assert 0 <= sample.low <= chart.centre <= sample.high <= 1
            assert (sample.signal == 0) == (sample.low <= sample.share <= sample.high)


@pytest.mark.parametrize(("count", "size"), [(-1, 3), (4, 3)])
def test_more_than_the_sample_is_refused_by_name(count, size):
    with pytest.raises(ValueError, match="count must lie between 0 and size"):
        p_chart([count], [size])
