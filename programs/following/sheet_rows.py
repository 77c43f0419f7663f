"""What a row of the sheet of home logs says was done, in seconds of each exercise of a plan."""

from __future__ import annotations

import re
from collections.abc import Mapping
from uuid import UUID

from clinic.people.importing.faults import Fault
from clinic.people.importing.sheet import Row
from programs.following.rules.amounts import Amount, seconds_of, shares_of
from programs.following.rules.entry import ItemEntry
from programs.prescribing.rules.plan import ItemPlan, Plan

_SHARE = {"yes": 1.0, "half": 0.5, "no": 0.0}


def items_of(row: Row, plan: Plan, names: Mapping[str, UUID]) -> tuple[ItemEntry, ...]:
    """As written for each exercise, or the same share of all of them; `names` are those of the plan's items in `plain` form.
    Fault unknown_exercise, missing_value."""
    if row.get("items"):
        by_key = {item.key: item for item in plan.items}
        return tuple(_entry(by_key[_known(name, names)], amount) for name, amount in row["items"])
    if row.get("done"):
        return tuple(_entry(item, Amount(share=_SHARE[row["done"]])) for item in plan.items)
    if "minutes" in row.values:
        return tuple(_entry(item, amount) for item, amount in shares_of(plan, row["minutes"]))
    raise Fault(
        "missing_value", "The row does not say what was done.", "Write yes, half or no, or the minutes.", "done"
    )


def _known(name: str, names: Mapping[str, UUID]) -> UUID:
    if name not in names:
        raise Fault(
            "unknown_exercise", f"“{name[:40]}” was not part of the program on that day.",
            f"Use one of: {', '.join(sorted(names))}.", "items",
        )
    return names[name]


def _entry(item: ItemPlan, amount: Amount) -> ItemEntry:
    left, right = seconds_of(item, amount)
    return ItemEntry(item_key=item.key, done_left=left, done_right=right)


def plain(text: str) -> str:
    """A name of an exercise for comparing: letters and digits only, no case."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))
