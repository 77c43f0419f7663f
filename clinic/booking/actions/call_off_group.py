"""Call a group off: everybody who joined is told, and clinician and room are free again."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import claiming
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.groups import visits_of_group
from clinic.booking.models import Claim, GroupVisit
from clinic.booking.queries import UPCOMING
from clinic.booking.vocab import HOLDING
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def call_off_group(*, by: User, group: GroupVisit, reason: str, now: datetime) -> int:
    """Cancel the visits of all who joined, and the group; how many. A second time changes nothing.

    Refusals: `invalid` (400) for another reason than a CancelReason, `begun` (409) when somebody has arrived.
    """
    claiming.lock([group.clinician_id], None, group.site)
    fresh = GroupVisit.objects.select_for_update(of=("self",)).get(pk=group.pk)
    if fresh.called_off_at is not None:
        return 0
    visits = list(visits_of_group(fresh).filter(status__in=HOLDING))
    if any(visit.status not in UPCOMING for visit in visits):
        raise Refusal("begun", "Somebody has arrived for this group. It cannot be called off any more.", status=409)
    for visit in visits:
        cancel_visit(by=by, appointment=visit, reason=reason, now=now, undoable=False)
    fresh.called_off_at, fresh.version = now, fresh.version + 1
    fresh.save(update_fields=["called_off_at", "version"])
    Claim.objects.filter(group=fresh).delete()
    audit.record(
        by=by, verb="call_off_group", kind="group", public_id=fresh.public_id, at=now, client=None, visits=len(visits)
    )
    return len(visits)
