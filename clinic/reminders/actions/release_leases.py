"""Take back messages whose worker let the lease run out."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

from django.db.models import Exists, F, OuterRef

from clinic.reminders.kinds import known
from clinic.reminders.models import Message
from clinic.reminders.vocab import MessageState

FREE = {"claimed_by": "", "lease_until": None, "handed_over_at": None}
LEFT = {"state": MessageState.SENT, "reason": "", "claimed_by": "", "lease_until": None}
RESENDS_AT_MOST = 1


def release_leases(*, now: datetime) -> Counter[str]:
    """Free every claim whose lease is over; counts of `released`, `sent`, `resent` (will go again) and `unknown`.

    A claim without a hand-over goes back to waiting. One with a later hand-over under the same claim has left. Of the last
    one handed over nobody can say whether it left: see `settle_unknown`. Each change names the claim it ends, so two of
    these at once do it once.
    """
    counts: Counter[str] = Counter()
    expired = Message.objects.filter(state=MessageState.CLAIMED, lease_until__lt=now)
    later = Message.objects.filter(
        state=MessageState.CLAIMED, claimed_by=OuterRef("claimed_by"), handed_over_at__gt=OuterRef("handed_over_at")
    )
    counts["sent"] = expired.filter(Exists(later)).update(sent_at=F("handed_over_at"), **LEFT)
    counts["released"] = expired.filter(handed_over_at__isnull=True).update(state=MessageState.PENDING, **FREE)
    for pk, token, kind in expired.filter(handed_over_at__isnull=False).values_list("pk", "claimed_by", "kind"):
        counts[settle_unknown(pk=pk, token=token, kind=kind, now=now)] += 1
    return +counts


def settle_unknown(*, pk: int, token: str, kind: str, now: datetime) -> str:
    """`resent` when the kind may go again, has not yet, and is still useful; else `unknown`, left for a person."""
    claim = Message.objects.filter(pk=pk, claimed_by=token, state=MessageState.CLAIMED)
    rule = known(kind)
    if rule is not None and rule.after_unknown == "resend":
        again = claim.filter(resends__lt=RESENDS_AT_MOST, not_after__gte=now)
        if again.update(state=MessageState.PENDING, resends=F("resends") + 1, **FREE):
            return "resent"
    ended = claim.update(state=MessageState.UNKNOWN, reason="outcome_unknown", claimed_by="", lease_until=None)
    return "unknown" if ended else "taken"
