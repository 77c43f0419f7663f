"""Carry out a proposed move: the client said yes, or the desk did for them."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.move_visit import move_visit
from clinic.booking.away import locked_move
from clinic.booking.models import Appointment, ProposedMove
from clinic.booking.moves import check_open
from clinic.booking.vocab import MoveState, Resource
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def confirm_move(*, by: User, move: ProposedMove, now: datetime) -> ProposedMove:
    """Move the visit past the same wall as every booking, and tell the client. Confirmed twice it moves once.

    Refusals (409): `slot_taken` with openings= when the hour has gone, `changed_meanwhile` when the visit or the proposal is
    not what it was, `no_place`; and what move_visit refuses.
    """
    fresh = locked_move(move)
    if fresh.state == MoveState.CONFIRMED:
        return fresh
    check_open(fresh)
    if fresh.starts is None or fresh.clinician is None:
        raise Refusal("no_place", "There is no time to move it to. Choose one first.", status=409)
    try:
        _move(by, fresh, now, keep_room=True)
    except Refusal as refusal:
        if refusal.numbers.get("taken") != Resource.ROOM:
            raise
        _move(by, fresh, now, keep_room=False)   # another suitable room does as well
    fresh.state = MoveState.CONFIRMED
    fresh.save(update_fields=["state"])
    audit.record(
        by=by, verb="confirm_move", kind="move", public_id=fresh.public_id, at=now, client=fresh.appointment.client,
        appointment=str(fresh.appointment.public_id),
    )
    return fresh


def _move(by: User, move: ProposedMove, now: datetime, *, keep_room: bool) -> Appointment:
    if move.starts is None:
        raise ValueError("a move without a time")
    return move_visit(
        by=by, appointment=move.appointment, start=move.starts, now=now, clinician=move.clinician,
        room=move.room if keep_room else None,
    )
