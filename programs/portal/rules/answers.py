"""From what a client answers about an exercise to the seconds that are logged."""

from __future__ import annotations

from programs.library.rules.dose import End
from programs.portal.vocab import HowMuch
from programs.prescribing.rules.plan import ItemPlan

MOST_SECONDS = 7200   # of one exercise on one side in one session: two hours


def seconds_done(item: ItemPlan, answer: HowMuch, left: int | None = None, right: int | None = None) -> tuple[int, int]:
    """(left, right) seconds for an answer; sides worked together count as left.

    `partly` takes the counted seconds, or, when nobody counted, half of the minimum (common practice, no source).
    """
    match answer:
        case HowMuch.NOT:
            return 0, 0
        case HowMuch.PARTLY if left or right:
            return _where_it_counts(item, left or 0, right or 0)
        case HowMuch.PARTLY:
            return _split(item, item.work("minimum") // 2)
        case HowMuch.MINIMUM:
            return _split(item, item.work("minimum"))
        case _:
            return _split(item, item.work("full"))


def has_range(item: ItemPlan) -> bool:
    """Whether the least and all of it are different."""
    ends: tuple[End, End] = ("minimum", "full")
    return len({item.work(end) for end in ends}) == 2


def _split(item: ItemPlan, seconds: int) -> tuple[int, int]:
    if item.side == "each":
        return seconds // 2, seconds // 2
    return (0, seconds) if item.side == "right" else (seconds, 0)


def _where_it_counts(item: ItemPlan, left: int, right: int) -> tuple[int, int]:
    if item.side == "each":
        return left, right
    return (0, left + right) if item.side == "right" else (left + right, 0)
