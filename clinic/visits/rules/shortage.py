"""Which working time is missing when not every review has a place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class Missing:
    """What a clinician lacks in a week: `reviews` without a place, and the minutes that would hold them one after another."""

    clinician: int
    monday: date
    reviews: int
    minutes: int


def missing(left: Iterable[tuple[int, date]], minutes: int) -> list[Missing]:
    """From (clinician, day due) of each review left out, each `minutes` long with preparation and clean-up; by week.

    The day due lies inside the window, so that this much more time in its week is enough; fewer minutes are not, because
    nobody was left out for whom there was room.
    """
    counts = Counter((clinician, due - timedelta(days=due.weekday())) for clinician, due in left)
    return [
        Missing(clinician, monday, count, count * minutes)
        for (clinician, monday), count in sorted(counts.items(), key=lambda entry: (entry[0][1], entry[0][0]))
    ]
