"""What was done of an exercise, in seconds a side."""

from uuid import UUID

import pytest

from programs.following.rules.amounts import Amount, read_amount, seconds_of
from programs.library.rules.dose import Hold, Span
from programs.prescribing.rules.plan import ItemPlan


def item(side):
    """Two holds of 20 to 30 seconds."""
    return ItemPlan(UUID(int=1), "side-plank", 1, Hold(Span(2, 2), Span(20, 30)), side)


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("yes", Amount(share=1.0)), (" Half ", Amount(share=0.5)), ("no", Amount(share=0.0)), ("80 %", Amount(share=0.8)),
        ("45 s", Amount(left=45)), ("1,5 min", Amount(left=90)), ("40/35 s", Amount(left=40, right=35)),
    ],
)
def test_accepted(text, amount):
    assert read_amount(text) == amount


@pytest.mark.parametrize("text", ["", "plenty", "45", "-5 s", "40/35/30 s", "99999 min", "1000 %"])
def test_refused(text):
    with pytest.raises(ValueError):
        read_amount(text)


@pytest.mark.parametrize(
    ("side", "amount", "seconds"),
    [
        ("each", Amount(share=1.0), (40, 40)), ("both", Amount(share=1.0), (40, 0)), ("left", Amount(share=0.5), (20, 0)),
        ("right", Amount(share=0.5), (0, 20)), ("each", Amount(left=30), (30, 30)), ("both", Amount(left=30), (30, 0)),
        ("each", Amount(left=40, right=35), (40, 35)), ("both", Amount(left=40, right=35), (75, 0)),
        ("left", Amount(left=40, right=35), (40, 0)),
    ],
)
def test_seconds_by_side(side, amount, seconds):
    assert seconds_of(item(side), amount) == seconds
