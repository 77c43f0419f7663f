"""The pain rules beside the soreness rules: never laxer where those hold back.

Adams D et al. 2012, J Orthop Sports Phys Ther 42(7):601-614 (soreness rules; volume and pages from memory): no soreness,
advance; sore and staying sore through the session, stop and drop a step; sore on the day after, one day off and the same
again. Those rules are about soreness of an operated knee and know no numbers; here soreness is read as the answer on 0-10.
"""

import pytest

from programs.following.rules.symptoms import Edges, verdict

EDGES = Edges()


def test_no_soreness_may_advance():
    assert verdict(0, 0, 0, EDGES) == "go_on"


@pytest.mark.parametrize("during", range(6, 11))
@pytest.mark.parametrize("before", [0, 3, 6])
@pytest.mark.parametrize("morning", [None, 0, 5])
def test_soreness_that_stays_above_what_is_acceptable_drops_a_step(during, before, morning):
    assert verdict(during, before, morning, EDGES) == "ease"


@pytest.mark.parametrize("during", range(11))
@pytest.mark.parametrize("before", range(10))
def test_soreness_that_is_still_up_on_the_next_day_never_advances(during, before):
    for morning in range(before + 1, 11):
        assert verdict(during, before, morning, EDGES) != "go_on"
        if morning >= before + EDGES.morning_rise:
            assert verdict(during, before, morning, EDGES) == "ease"


@pytest.mark.parametrize("before", range(11))
@pytest.mark.parametrize("morning", [None, *range(11)])
def test_more_pain_is_never_answered_with_more_work(before, morning):
    ranks = {"go_on": 0, "hold": 1, "ease": 2}
    said = [ranks[verdict(during, before, morning, EDGES)] for during in range(11)]
    assert said == sorted(said)
