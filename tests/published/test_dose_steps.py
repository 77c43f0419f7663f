"""Load steps, the week's activity, and the speed of rolling.

Load step: Ratamess NA et al. (ACSM) 2009, Med Sci Sports Exerc 41(3):687-708: 2 to 10 per cent once one or two repetitions
above the target are possible.
Activity: Bull FC et al. 2020 (WHO), Br J Sports Med 54:1451-1462: 150 to 300 minutes of moderate or 75 to 150 of vigorous
activity a week, or as much of both together.
Stretch holds of older adults: Garber CE et al. 2011, Med Sci Sports Exerc 43(7):1334-1359: 30 to 60 seconds.
Rolling speed of 2.5 cm a second, a minute a side, four or five passes: common practice, no source.
"""

import pytest

from programs.library.rules.dose import Continuous, Hold, Roll, Span
from programs.library.rules.guideline import active_week, check, load_step, next_loads, pass_seconds, strokes

ONCE = Span(1, 1)


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        (20, 20.3, "under"), (20, 20.4, "within"), (20, 21, "within"), (20, 22, "within"), (20, 22.1, "over"),
        (61.2, 63.5, "within"),      # 135 lb and five more: 3.8 per cent
        (2, 2.5, "over"),            # a quarter more: small weights come in coarse steps
        (20, 18, "under"),
    ],
)
def test_a_load_step_is_two_to_ten_per_cent(before, after, code):
    assert load_step(before, after).code == code


def test_the_next_loads_lie_at_the_edges_of_the_range():
    assert next_loads(50) == (51, 55)
    assert [load_step(50, load).code for load in next_loads(50)] == ["within", "within"]


@pytest.mark.parametrize("load", [0, -5, float("nan")])
def test_a_load_must_be_above_nothing(load):
    with pytest.raises(ValueError, match="must be above 0"):
        load_step(load, 10)


@pytest.mark.parametrize(
    ("moderate", "vigorous", "code"),
    [(149, 0, "under"), (150, 0, "within"), (300, 0, "within"), (301, 0, "over"),
     (0, 74, "under"), (0, 75, "within"), (0, 150, "within"), (0, 151, "over"), (75, 38, "within"), (74, 37, "under")],
)
def test_a_week_of_moderate_and_vigorous_minutes(moderate, vigorous, code):
    assert active_week(moderate, vigorous).code == code


def test_thirty_minutes_on_five_days_is_the_lower_edge_and_on_four_too_little():
    dose = Continuous(Span(30, 30))
    assert [finding.code for finding in check("aerobic", "both", dose, ONCE, ONCE, 5)] == ["within"]
    assert [finding.code for finding in check("aerobic", "both", dose, ONCE, ONCE, 4)] == ["under"]


@pytest.mark.parametrize(
    ("seconds", "adults", "older"), [(10, "within", "under"), (30, "within", "within"), (60, "over", "within")]
)
def test_older_adults_hold_a_stretch_longer(seconds, adults, older):
    dose = Hold(Span(2, 2), Span(seconds, seconds))
    codes = [
        next(f.code for f in check("static_stretch", "each", dose, ONCE, ONCE, 3, older=old) if f.what == "hold")
        for old in (False, True)
    ]
    assert codes == [adults, older]


def test_a_minute_at_the_slow_speed_of_the_trade_is_five_passes_over_thirty_centimetres():
    assert pass_seconds(30) == 12
    assert strokes(Roll(ONCE, Span(60, 60), pass_seconds=12), "full") == 5


def test_the_published_pass_is_faster_than_the_trades_and_the_check_says_so():
    assert [30 / seconds for seconds in (4, 2)] == [7.5, 15]   # centimetres a second over a thigh of 30 cm
    found = check("rolling", "each", Roll(ONCE, Span(60, 60), pass_seconds=12), ONCE, ONCE, 7)
    assert {finding.what: finding.code for finding in found} == {"sets": "within", "seconds": "within", "stroke": "over"}
