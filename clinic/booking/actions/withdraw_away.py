"""They come after all: open the days again and let go of what was not confirmed."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.models import Away
from clinic.booking.vocab import UNSETTLED, MoveState
from clinic.people import audit
from clinic.people.models import User
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def withdraw_away(*, by: User, away: Away, now: datetime) -> Away:
    """The absences go, open proposals are closed, moved visits stay where they are by now. Twice changes nothing."""
    fresh = Away.objects.select_for_update().get(pk=away.pk)
    if fresh.withdrawn_at is not None:
        return fresh
    fresh.withdrawn_at = now
    fresh.save(update_fields=["withdrawn_at"])
    fresh.absences.all().delete()
    fresh.moves.filter(state__in=UNSETTLED).update(state=MoveState.LEFT)
    audit.record(by=by, verb="withdraw_away", kind="away", public_id=fresh.public_id, at=now, client=None)
    return fresh
