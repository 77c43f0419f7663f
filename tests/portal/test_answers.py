"""What an answer is worth in seconds."""

from uuid import UUID

import pytest

from programs.following.rules.adherence import item_credit
from programs.following.rules.entry import ItemEntry
from programs.library.rules.dose import Hold, Span
from programs.portal.rules.answers import has_range, seconds_done
from programs.portal.vocab import HowMuch
from programs.prescribing.rules.plan import ItemPlan

KEY = UUID(int=1)
DOSE = Hold(Span(2, 3), Span(30, 30))   # 60 to 90 seconds a side


@pytest.mark.parametrize(
    ("side", "answer", "counted", "expected"),
    [
        ("each", "full", (None, None), (90, 90)),
        ("each", "minimum", (None, None), (60, 60)),
        ("each", "partly", (None, None), (30, 30)),
        ("each", "partly", (40, 10), (40, 10)),
        ("each", "not", (40, 10), (0, 0)),
        ("each", "full", (40, 10), (90, 90)),
        ("left", "full", (None, None), (90, 0)),
        ("right", "full", (None, None), (0, 90)),
        ("right", "partly", (None, 25), (0, 25)),
        ("both", "minimum", (None, None), (60, 0)),
        ("alternating", "partly", (20, 5), (25, 0)),
    ],
)
def test_seconds_of_an_answer(side, answer, counted, expected):
    item = ItemPlan(KEY, "lean", 1, DOSE, side=side)
    assert seconds_done(item, HowMuch(answer), *counted) == expected


@pytest.mark.parametrize("side", ["both", "each", "alternating", "left", "right"])
def test_credit_follows_the_answer_on_every_kind_of_side(side):
    item = ItemPlan(KEY, "lean", 1, DOSE, side=side)
    credits = {
        how: item_credit(item, ItemEntry(KEY, *seconds_done(item, how))) for how in HowMuch
    }
    assert credits == {HowMuch.FULL: 1.0, HowMuch.MINIMUM: 1.0, HowMuch.PARTLY: 0.5, HowMuch.NOT: 0.0}


def test_the_least_is_offered_only_where_it_differs():
    assert has_range(ItemPlan(KEY, "lean", 1, DOSE))
    assert not has_range(ItemPlan(KEY, "lean", 1, Hold(Span(2, 2), Span(30, 30))))
