"""How much of an exercise was done, as people write it down, in seconds a side."""

from __future__ import annotations

import re
from dataclasses import dataclass

from programs.prescribing.rules.plan import ItemPlan, Plan

MOST_SECONDS = 36_000   # of one item in one session: ten hours
_WORDS = {"yes": 1.0, "all": 1.0, "done": 1.0, "half": 0.5, "no": 0.0, "none": 0.0}
_TIMED = re.compile(r"(\d{1,5}(?:[.,]\d+)?)(?:\s*/\s*(\d{1,5}(?:[.,]\d+)?))?\s*(s|sec|secs|seconds|m|min|mins|minutes)")
_PERCENT = re.compile(r"(\d{1,3})\s*%")


@dataclass(frozen=True, slots=True)
class Amount:
    """A share of the prescribed minimum, or seconds: of each side, or left and right apart."""

    share: float | None = None
    left: float = 0.0
    right: float | None = None


def read_amount(text: str) -> Amount:
    """`yes`, `half`, `no`, `80 %`, `45 s`, `2 min`, `40/35 s` (left/right). ValueError for anything else."""
    plain = text.strip().casefold()
    if plain in _WORDS:
        return Amount(share=_WORDS[plain])
    if found := _PERCENT.fullmatch(plain):
        return Amount(share=int(found[1]) / 100)
    found = _TIMED.fullmatch(plain)
    if not found:
        raise ValueError("this is neither yes, half, no, a percentage nor a time")
    unit = 60 if found[3].startswith("m") else 1
    left, right = (float(part.replace(",", ".")) * unit if part else None for part in (found[1], found[2]))
    if max(left or 0, right or 0) > MOST_SECONDS:
        raise ValueError("ten hours are the most that can be done of one exercise")
    return Amount(left=left or 0.0, right=right)


def seconds_of(item: ItemPlan, amount: Amount) -> tuple[int, int]:
    """(left, right) seconds done of an item; both sides together count as left when they are worked at once.

    One time for an exercise done on each side means that time on each of them.
    """
    if amount.share is not None:
        whole = item.work("minimum") * amount.share
        each = whole / item.sides
        left, right = each, each
    else:
        left, right = amount.left, amount.left if amount.right is None else amount.right
        if item.side in {"both", "alternating"} and amount.right is not None:
            left = left + right
    match item.side:
        case "left":
            right = 0
        case "right":
            left = 0
        case "both" | "alternating":
            right = 0
    return min(round(left), MOST_SECONDS), min(round(right), MOST_SECONDS)


def shares_of(plan: Plan, minutes: float) -> list[tuple[ItemPlan, Amount]]:
    """The minutes of a whole session, set-up and changes of side included, spread over its items as prescribed."""
    share = minutes * 60 / plan.session_seconds("minimum")
    return [(item, Amount(share=share)) for item in plan.items]
