"""What must be true of a proposed move before anything is done with it."""

from __future__ import annotations

from clinic.booking.models import ProposedMove
from clinic.booking.queries import UPCOMING
from clinic.booking.vocab import UNSETTLED
from clinic.people.refusal import Refusal


def check_open(move: ProposedMove) -> None:
    """Refusal `changed_meanwhile` (409) when the move is settled or withdrawn, or the visit is not what it was."""
    visit = move.appointment
    if move.state not in UNSETTLED or move.away.withdrawn_at is not None:
        raise Refusal("changed_meanwhile", "This proposal is not open any more.", status=409, state=move.state)
    if visit.version != move.version or visit.status not in UPCOMING:
        raise Refusal(
            "changed_meanwhile", "This visit was changed since the proposal was made. Look at the visit first.", status=409
        )
