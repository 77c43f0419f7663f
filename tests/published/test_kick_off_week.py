"""A kick-off week as it is commonly given, its minutes worked out by hand. Common practice, no source.

The facts of the trade: rolling three muscle groups a minute a side, one or two rounds; a hip stretch a minute a side, twice;
a calf stretch held 30 to 60 seconds a side, once or twice; two bridge drills of 20 repetitions, two rounds; once or twice a
day for seven days, then scaled back. It is a check of the arithmetic only: no program or template of the house is made of it.
Ours are the set-up of 20 s for each exercise, 5 s for turning over between sides, 3 s for a bridge repetition, 30 s of rest
between the rounds of a bridge, and 10 s of rest between holds.

By hand, one session in seconds, minimum and full:

    rolling, each of three groups   20 + 1 x (60 + 5 + 60)                  = 145
                                    20 + 2 x (60 + 5 + 60)                  = 270
    three groups                    3 x 145 = 435                 to  3 x 270 = 810
    hip stretch                     20 + 2 sides x (60 + 10 + 60) + 5       = 285          both ends alike
    calf stretch                    20 + 2 sides x 30 + 5                   = 85
                                    20 + 2 sides x (60 + 10 + 60) + 5       = 285
    bridge, each of two drills      20 + 2 x 20 x 3 + 30                    = 170          both ends alike
    two drills                      340
    a session                       435 + 285 + 85 + 340 = 1145 s           = 19 min 5 s
                                    810 + 285 + 285 + 340 = 1720 s          = 28 min 40 s
    a day, once or twice            1145 s = 19 min 5 s           to  3440 s = 57 min 20 s
    the week                        7 x 1145 = 8015 s             to  7 x 3440 = 24 080 s
"""

from datetime import date, timedelta
from uuid import UUID

import pytest

from programs.library.rules.dose import Hold, Reps, Roll, Span
from programs.prescribing.rules.fit import fit
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan, day_plan, phase_seconds, weekly_sessions
from programs.prescribing.rules.taper import taper

MONDAY = date(2026, 3, 2)
MINUTE, ONCE = Span(60, 60), Span(1, 1)


def item(number, dose, side="each", rounds=ONCE, priority=1):
    return ItemPlan(UUID(int=number), f"item-{number}", 1, dose, side, rounds, 20, priority)


ROLLS = [item(n, Roll(Span(1, 1), MINUTE, pass_seconds=3), rounds=Span(1, 2), priority=3) for n in (1, 2, 3)]
HIP = item(4, Hold(Span(2, 2), MINUTE, rest=10))
CALF = item(5, Hold(Span(1, 2), Span(30, 60), rest=10), priority=2)
BRIDGES = [item(n, Reps(Span(2, 2), Span(20, 20), tempo=3, rest=30), "both") for n in (6, 7)]
KICK_OFF = PhasePlan("kick_off", 7, Span(1, 2), 7, times=("morning", "evening"))
MAINTENANCE = PhasePlan("maintenance", None, Span(1, 1), 2)
PLAN = Plan(MONDAY, (KICK_OFF, MAINTENANCE), (*ROLLS, HIP, CALF, *BRIDGES))


@pytest.mark.parametrize(
    ("exercise", "minimum", "full"), [(ROLLS[0], 145, 270), (HIP, 285, 285), (CALF, 85, 285), (BRIDGES[0], 170, 170)]
)
def test_each_exercise(exercise, minimum, full):
    assert (exercise.seconds("minimum"), exercise.seconds("full")) == (minimum, full)


def test_a_day_takes_19_to_57_minutes():
    assert (PLAN.session_seconds("minimum"), PLAN.session_seconds("full")) == (1145, 1720)
    assert (phase_seconds(PLAN, KICK_OFF, "minimum"), phase_seconds(PLAN, KICK_OFF, "full")) == (1145, 3440)


def test_the_week_is_seven_such_days():
    days = [day_plan(PLAN, MONDAY + timedelta(n)) for n in range(7)]
    assert sum(day.minimum_seconds for day in days) == 8015
    assert sum(day.full_seconds for day in days) == 24_080


def test_it_is_scaled_back_after_the_first_seven_days():
    """14 sessions a week at most in the kick-off; half as often, step after step over four weeks: 7, 4, then 2."""
    steps = taper("halving", KICK_OFF, MAINTENANCE, 4)
    assert [weekly_sessions(phase).full for phase in (KICK_OFF, *steps, MAINTENANCE)] == [14, 7, 4, 2]


def test_forty_minutes_a_day_cost_the_second_round_of_rolling():
    """40 min twice a day are 1200 s a session. 1145 s are the least of all; 55 s are left over. The hip stretch and the
    bridges have no range. The calf stretch has priority over rolling: 85 s may become 140 s at most, and one hold of
    55 s a side takes 20 + 2 x 55 + 5 = 135 s. A second round of rolling takes 125 s and does not fit: all three lose it."""
    fitted = fit(PLAN.items, 40, 2)
    now = {one.exercise: one for one in fitted.items}
    assert [now[f"item-{n}"].rounds for n in (1, 2, 3)] == [Span(1, 1)] * 3
    assert now["item-5"].seconds("full") == 135
    assert fitted.now_seconds == 1145 + 50
    assert {lost.code for lost in fitted.given_up} == {"shortened"}
