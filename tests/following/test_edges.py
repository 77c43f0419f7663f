"""The edges that a changed comparison would move, found by changing the rules on purpose and seeing which tests noticed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from programs.following.rules import fold, trend

TODAY = date(2026, 3, 9)


def pains(*back: int) -> list[tuple[date, int]]:
    return [(TODAY - timedelta(days=days), days % 11) for days in back]


def test_a_trend_of_pain_needs_just_so_many_answers_of_just_so_many_days():
    enough = range(fold.PAIN_POINTS)
    assert fold.pain_trend(pains(*enough), TODAY) is not None
    assert fold.pain_trend(pains(*enough[1:]), TODAY) is None
    assert fold.pain_trend(pains(*enough[1:], fold.PAIN_DAYS - 1), TODAY) is not None
    assert fold.pain_trend(pains(*enough[1:], fold.PAIN_DAYS), TODAY) is None


def test_the_moving_average_weighs_the_newest_value_three_tenths_unless_told():
    assert trend.ewma([1.0], 0.0) == [0.0, pytest.approx(0.3)]
    assert trend.ewma_limits(0.0, 1.0)[1] == pytest.approx(3 * (0.3 / 1.7) ** 0.5)
    assert trend.shift([5.0], 0.0, 1.0) == 1
    assert trend.shift([-5.0], 0.0, 1.0) == -1


def test_on_the_limit_is_no_shift():
    reach = trend.ewma_limits(0.0, 1.0, weight=1.0)[1]
    assert trend.shift([reach], 0.0, 1.0, weight=1.0) == 0
    assert trend.shift([-reach], 0.0, 1.0, weight=1.0) == 0
