"""Go to a stop of the first round, or leave it."""

from __future__ import annotations

from django.db import transaction

from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.tour import LEFT, ROUNDS, Stop


@transaction.atomic
def go_round(*, by: User, stop: int) -> Stop | None:
    """The stop that `by` is at from now on; None when the round is left (`stop` 0). Staff only.

    Not audited: it says nothing of anybody. Refusal: `invalid` for a stop that the round does not have.
    """
    if by.role not in ROUNDS:
        raise NotThere
    stops = ROUNDS[by.role]
    if not LEFT <= stop <= len(stops):
        raise Refusal(
            "invalid", f"The round has {len(stops)} stops.", status=400, fields={"stop": f"A number from 0 to {len(stops)}."}
        )
    by.tour_stop = stop
    by.save(update_fields=["tour_stop"])
    return stops[stop - 1] if stop else None
