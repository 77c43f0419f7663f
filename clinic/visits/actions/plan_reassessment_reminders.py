"""Queue the reminders of reassessments: to the client when the window opens, to the desk when it is overdue."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from clinic.people.models import Client, Site, Staff, User
from clinic.people.queries import system_actor
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message
from clinic.visits.models import Reassessment
from clinic.visits.vocab import ReassessmentStatus
from clinic.visits.wording import day_words

URLS = {"reassessment_due": "/portal/visits/", "reassessment_overdue": "/reassessments/"}
DESK_DAYS = 14   # how many days after the due day the desk is still told; later it only stands on the list


@dataclass(frozen=True)
class _Letter:
    kind: str
    to: Client | Staff
    first_name: str
    language: str
    key: str
    row: Reassessment
    not_after: datetime


@transaction.atomic
def plan_reassessment_reminders(*, now: datetime) -> dict[str, int]:
    """Queue what is due and not queued yet; running it again adds nothing. Counts by kind of message.

    A message belongs to one reassessment and due day: a window that moves is announced anew, the old message is skipped
    at sending. Days are those of the site.
    """
    desks = _desks()
    letters = [letter for row in _candidates(now) for letter in _letters(row, now, desks)]
    known = set(Message.objects.filter(dedup_key__in=[letter.key for letter in letters]).values_list("dedup_key", flat=True))
    system, counts = system_actor(), {"reassessment_due": 0, "reassessment_overdue": 0}
    for letter in letters:
        if letter.key not in known:
            counts[letter.kind] += _queue(system, letter, now)
    return counts


def _candidates(now: datetime) -> list[Reassessment]:
    # one day either way, because the sites' days differ from UTC's
    opened_by, due_from = now.date() + timedelta(days=1), now.date() - timedelta(days=DESK_DAYS + 1)
    rows = Reassessment.objects.filter(
        status=ReassessmentStatus.OPEN, appointment__isnull=True, earliest__lte=opened_by, due__gte=due_from,
        episode__client__archived__isnull=True,
    )
    return list(rows.select_related("episode__client__site").order_by("due", "pk"))


def _desks() -> dict[int, list[Staff]]:
    desks: dict[int, list[Staff]] = {}
    links = Staff.sites.through.objects.filter(staff__user__role=Role.FRONT_DESK, staff__user__is_active=True)
    for link in links.select_related("staff").order_by("pk"):
        desks.setdefault(link.site_id, []).append(link.staff)
    return desks


def _letters(row: Reassessment, now: datetime, desks: dict[int, list[Staff]]) -> Iterator[_Letter]:
    client: Client = row.episode.client
    site: Site = client.site
    today = zones.day_in(now, site.zone)
    ending = f"{row.public_id}:{row.due.isoformat()}"
    if row.earliest <= today <= row.due:
        _, until = zones.day_bounds(row.due, site.zone)
        yield _Letter(
            "reassessment_due", client, client.given_name, client.language, f"reassessment_due:{ending}", row, until
        )
    if row.due < today <= row.due + timedelta(days=DESK_DAYS):
        _, until = zones.day_bounds(row.due + timedelta(days=DESK_DAYS), site.zone)
        for staff in desks.get(site.pk, []):
            yield _Letter(
                "reassessment_overdue", staff, staff.name.split()[0], "en",
                f"reassessment_overdue:{ending}:{staff.public_id}", row, until,
            )


def _queue(system: User, letter: _Letter, now: datetime) -> bool:
    message = queue_message(
        by=system, kind=letter.kind, to=letter.to, about=f"reassessment:{letter.row.public_id}", dedup_key=letter.key,
        due=now, not_after=letter.not_after, now=now,
        values={"first_name": letter.first_name, "day": day_words(letter.row.due, letter.language), "url": URLS[letter.kind]},
    )
    return message is not None
