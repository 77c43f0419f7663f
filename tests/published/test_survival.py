"""Drop-out curves against the classic remission data and against a reference library.

Freireich EJ et al. 1963, Blood 21:699-716: weeks of remission under 6-MP and under placebo. The printed table (number at
risk, share, standard error) is that of Klein JP, Moeschberger ML, Survival Analysis, Table 4.1B.
"""

import warnings
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import CensoredData, ecdf

from programs.following.rules.adherence import Counted
from programs.following.rules.survival import Followed, followed, kaplan_meier, median_day

EVENTS = [6, 6, 6, 7, 10, 13, 16, 22, 23]
CENSORED = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
PRINTED = [
    # week, at risk, share, standard error
    (6, 21, 0.8571, 0.076), (7, 17, 0.8067, 0.087), (10, 15, 0.7529, 0.096), (13, 12, 0.6902, 0.107),
    (16, 11, 0.6275, 0.114), (22, 7, 0.5378, 0.128), (23, 6, 0.4482, 0.135),
]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]   # weeks, from memory of the paper


def people(events, censored):
    return [Followed(day, True) for day in events] + [Followed(day, False) for day in censored]


def test_the_printed_table():
    steps = kaplan_meier(people(EVENTS, CENSORED))
    assert [(step.day, step.at_risk) for step in steps] == [(week, at_risk) for week, at_risk, _, _ in PRINTED]
    assert [step.share for step in steps] == pytest.approx([share for _, _, share, _ in PRINTED], abs=5e-5)
    assert [step.error for step in steps] == pytest.approx([error for _, _, _, error in PRINTED], abs=5e-4)
    assert median_day(steps) == 23


def test_without_censoring_it_is_the_plain_share():
    steps = {step.day: step for step in kaplan_meier(people(PLACEBO, []))}
    assert steps[8].share == pytest.approx(8 / 21)          # eight of 21 are left after week 8, and so in week 10
    assert steps[8].error == pytest.approx(0.106, abs=5e-4)
    assert (steps[23].share, steps[23].low, steps[23].high) == (0, None, None)


@settings(deadline=None, max_examples=80)   # a busy machine is not a fault
@given(st.lists(st.integers(1, 40), min_size=1, max_size=40), st.lists(st.integers(1, 40), max_size=40))
def test_shares_and_limits_agree_with_scipy(events, censored):
    steps = kaplan_meier(people(events, censored))
    reference = ecdf(CensoredData(uncensored=events, right=censored)).sf
    at = dict(zip(reference.quantiles, reference.probabilities, strict=True))
    assert {step.day: step.share for step in steps} == pytest.approx({day: at[day] for day in set(events)}, abs=1e-12)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)   # scipy divides by 0 where all have gone, and says so
        limits = reference.confidence_interval(confidence_level=0.95, method="log-log")
    low = dict(zip(limits.low.quantiles, limits.low.probabilities, strict=True))
    high = dict(zip(limits.high.quantiles, limits.high.probabilities, strict=True))
    for step in steps:
        if step.low is not None and low[step.day] == low[step.day]:
            assert (step.low, step.high) == pytest.approx((low[step.day], high[step.day]), abs=1e-9)
        assert 0 <= step.share <= 1


def test_nobody_has_no_curve_and_day_0_is_refused():
    assert kaplan_meier([]) == ()
    assert median_day(kaplan_meier(people([], [3, 5]))) is None
    with pytest.raises(ValueError, match="day 1, not 0"):
        kaplan_meier([Followed(0, True)])


FIRST = date(2026, 3, 2)


def course(marks: str) -> list[Counted]:
    """One mark a day: `x` logged, `.` asked and silent, `-` nothing asked, `p` paused."""
    return [
        Counted(
            FIRST + timedelta(days=index), {"p": "paused", "-": "rest"}.get(mark, "prescribed"), int(mark in "x."),
            float(mark == "x"), int(mark == "x"), mark == "x", 60, 60,
        )
        for index, mark in enumerate(marks)
    ]


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ("xxx...", Followed(4, True)),          # the day on which the silence began
        ("xxx..x", Followed(6, False)),         # two days are not three
        ("x.-.xx", Followed(2, True)),          # a day without a session inside a silence counts
        ("x-..xx", Followed(6, False)),         # one before it does not begin it
        ("x.ppp.x", Followed(4, False)),        # paused days are neither silence nor time
        ("x.pp..", Followed(2, True)),
        ("...", Followed(1, True)),             # never began
        ("", None),
    ],
)
def test_when_somebody_dropped_out(marks, expected):
    assert followed(course(marks), FIRST + timedelta(days=len(marks)), 3) == expected


def test_today_is_not_over():
    assert followed(course("x.."), FIRST + timedelta(days=2), 2) == Followed(2, False)
