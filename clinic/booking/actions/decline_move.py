"""The client says no to a proposed time."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.away import locked_move
from clinic.booking.models import ProposedMove
from clinic.booking.moves import check_open
from clinic.booking.vocab import MoveState
from clinic.people import audit
from clinic.people.models import User
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def decline_move(*, by: User, move: ProposedMove, now: datetime) -> ProposedMove:
    """The visit stays as it is, and the desk sees that another time is needed. Refusal `changed_meanwhile` (409)."""
    fresh = locked_move(move)
    if fresh.state == MoveState.DECLINED:
        return fresh
    check_open(fresh)
    fresh.state = MoveState.DECLINED
    fresh.save(update_fields=["state"])
    audit.record(
        by=by, verb="decline_move", kind="move", public_id=fresh.public_id, at=now, client=fresh.appointment.client
    )
    return fresh
