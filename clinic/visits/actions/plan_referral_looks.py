"""Plan the look before a referral runs out."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from clinic.people.models import Episode
from clinic.people.queries import system_actor
from clinic.people.rules import zones
from clinic.people.vocab import EpisodeStatus
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment
from clinic.visits.rules.plan import GRACE_DAYS, REFERRAL_LEAD_DAYS, before_referral_ends
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus


@transaction.atomic
def plan_referral_looks(*, now: datetime) -> int:
    """Plan one for every active episode whose referral ends soon and that has none; how many.

    One that was done or withdrawn for this very last day is not planned again; a new last day is a new question.
    """
    known = Reassessment.objects.filter(
        Q(status=ReassessmentStatus.OPEN) | Q(latest=OuterRef("referral_expires")),
        episode=OuterRef("pk"), reason=ReassessmentReason.REFERRAL_LIMIT,
    )
    soon = now.date() + timedelta(days=REFERRAL_LEAD_DAYS + GRACE_DAYS)
    rows = Episode.objects.filter(
        ~Exists(known), status=EpisodeStatus.ACTIVE, referral_expires__gte=now.date() - timedelta(days=1),
        referral_expires__lte=soon, client__archived__isnull=True,
    ).select_related("client__site")
    count, system = 0, system_actor()
    for episode in rows:
        if episode.referral_expires is None:
            continue
        span = before_referral_ends(episode.referral_expires, zones.day_in(now, episode.client.site.zone))
        if span is not None:
            count += plan_reassessment(
                by=system, episode=episode, reason=ReassessmentReason.REFERRAL_LIMIT, earliest=span.earliest, due=span.due,
                latest=span.latest, now=now,
            ) is not None
    return count
