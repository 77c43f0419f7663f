"""The edges that a changed comparison would move, found by changing the rules on purpose and seeing which tests noticed."""

from __future__ import annotations

from datetime import date, timedelta

from programs.following.rules import fold

TODAY = date(2026, 3, 9)


def pains(*back: int) -> list[tuple[date, int]]:
    return [(TODAY - timedelta(days=days), days % 11) for days in back]


def test_a_trend_of_pain_needs_just_so_many_answers_of_just_so_many_days():
    enough = range(fold.PAIN_POINTS)
    assert fold.pain_trend(pains(*enough), TODAY) is not None
    assert fold.pain_trend(pains(*enough[1:]), TODAY) is None
    assert fold.pain_trend(pains(*enough[1:], fold.PAIN_DAYS - 1), TODAY) is not None
    assert fold.pain_trend(pains(*enough[1:], fold.PAIN_DAYS), TODAY) is None
