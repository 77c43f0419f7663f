"""A client says yes or no to another time that the clinic proposes for a visit."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.confirm_move import confirm_move
from clinic.booking.actions.decline_move import decline_move
from clinic.booking.models import ProposedMove
from clinic.people.models import User
from clinic.people.refusal import NotThere


def answer_move(*, by: User, move: ProposedMove, yes: bool, now: datetime) -> ProposedMove:
    """Yes moves the visit, past the same wall as every booking; no leaves it and tells the desk.

    Refusals as of confirm_move: `slot_taken` (409) with openings=, `changed_meanwhile` (409).
    """
    if move.appointment.client.user_id != by.pk:
        raise NotThere
    return confirm_move(by=by, move=move, now=now) if yes else decline_move(by=by, move=move, now=now)
