"""Ask a client whether the proposed time suits them."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.away import locked_move
from clinic.booking.models import ProposedMove
from clinic.booking.moves import check_open
from clinic.booking.telling import ask_client
from clinic.booking.vocab import MoveState
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def ask_move(*, by: User, move: ProposedMove, now: datetime) -> ProposedMove:
    """Queue the question; the visit stays where it is until it is answered. Asked twice, one message leaves.

    Refusals (409): `no_place` without a proposed time, `changed_meanwhile`.
    """
    fresh = locked_move(move)
    if fresh.state == MoveState.ASKED:
        return fresh
    check_open(fresh)
    if fresh.starts is None:
        raise Refusal("no_place", "There is no time to ask about. Choose one first.", status=409)
    fresh.state, fresh.asked_at = MoveState.ASKED, now
    fresh.save(update_fields=["state", "asked_at"])
    ask_client(fresh, by=by, now=now)
    audit.record(
        by=by, verb="ask_move", kind="move", public_id=fresh.public_id, at=now, client=fresh.appointment.client,
        starts=fresh.starts.isoformat(),
    )
    return fresh
