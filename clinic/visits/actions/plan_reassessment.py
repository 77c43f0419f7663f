"""Plan a look at the measures between two dates."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import Episode, User
from clinic.people.refusal import Refusal
from clinic.people.vocab import EpisodeStatus
from clinic.visits.models import Reassessment
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus

OVER = (EpisodeStatus.FINISHED, EpisodeStatus.CANCELLED, EpisodeStatus.ENTERED_IN_ERROR)


@transaction.atomic
def plan_reassessment(
    *, by: User, episode: Episode, reason: str, earliest: date, due: date, latest: date, now: datetime
) -> Reassessment | None:
    """Open one, or move the window of the open one with the same reason while it is not booked.

    None when nothing had to change: the same window is open already, or a visit is booked for it. The days are local
    days of the site. Refusal `invalid` (400) for an unknown reason or a window out of order, `episode_over` (409).
    """
    if reason not in ReassessmentReason.values:
        raise Refusal("invalid", "There is no such reason to look again.", status=400, fields={"reason": reason})
    if not earliest <= due <= latest:
        raise Refusal(
            "invalid", f"The days {earliest}, {due}, {latest} must come in this order.", status=400,
            fields={"due": "It must lie between the earliest and the latest day."},
        )
    if episode.status in OVER:
        raise Refusal("episode_over", "This episode is over; nothing new can be planned for it.")
    known = _open(episode, reason)
    if known is None:
        try:
            with transaction.atomic():
                row = Reassessment.objects.create(
                    episode=episode, reason=reason, earliest=earliest, due=due, latest=latest, planned_at=now, planned_by=by
                )
        except IntegrityError:
            # somebody planned the same one at this moment: theirs stands, and ours is a change to it
            known = _open(episode, reason)
            if known is None:
                raise
        else:
            _record(by, "plan_reassessment", row, now)
            return row
    if known.appointment_id or (known.earliest, known.due, known.latest) == (earliest, due, latest):
        return None
    known.earliest, known.due, known.latest = earliest, due, latest
    known.save(update_fields=["earliest", "due", "latest"])
    _record(by, "move_reassessment", known, now)
    return known


def _open(episode: Episode, reason: str) -> Reassessment | None:
    rows = Reassessment.objects.select_for_update()
    return rows.filter(episode=episode, reason=reason, status=ReassessmentStatus.OPEN).first()


def _record(by: User, verb: str, row: Reassessment, now: datetime) -> None:
    audit.record(
        by=by, verb=verb, kind="reassessment", public_id=row.public_id, at=now, client=row.episode.client,
        reason=row.reason, earliest=row.earliest.isoformat(), due=row.due.isoformat(), latest=row.latest.isoformat(),
    )
