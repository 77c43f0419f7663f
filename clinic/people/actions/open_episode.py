"""Open an episode: one complaint to be worked on."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, Episode, Staff, User
from clinic.people.refusal import Refusal
from clinic.people.vocab import BodySide, EpisodeStatus, Region, Role


@transaction.atomic
def open_episode(
    *,
    by: User,
    client: Client,
    lead: Staff,
    region: str,
    complaint: str,
    opened: date,
    now: datetime,
    side: str = BodySide.NONE,
    goals: str = "",
    visits_allowed: int | None = None,
    referral_expires: date | None = None,
) -> Episode:
    """Open it with `lead` as the clinician. Refusal `invalid` (400) names the fields."""
    wrong: dict[str, str] = {}
    if region not in Region.values:
        wrong["region"] = "Choose a region of the body."
    if side not in BodySide.values:
        wrong["side"] = "Choose a side."
    if not complaint.strip() or len(complaint) > 200:
        wrong["complaint"] = "Say in 1 to 200 characters what it is about."
    if len(goals) > 2000:
        wrong["goals"] = "Goals can have 2000 characters at most."
    if lead.user.role != Role.CLINICIAN or not lead.sites.filter(pk=client.site_id).exists():
        wrong["lead"] = "Choose a clinician who works at the client's site."
    if visits_allowed is not None and not 1 <= visits_allowed <= 200:
        wrong["visits_allowed"] = "A referral allows 1 to 200 visits."
    if referral_expires and referral_expires < opened:
        wrong["referral_expires"] = "The referral ran out before the episode opened."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    episode = Episode.objects.create(
        client=client, lead=lead, region=region, side=side, complaint=complaint.strip(), goals=goals.strip(),
        status=EpisodeStatus.ACTIVE, opened=opened, visits_allowed=visits_allowed, referral_expires=referral_expires,
    )
    audit.record(by=by, verb="open_episode", kind="episode", public_id=episode.public_id, at=now, client=client)
    return episode
