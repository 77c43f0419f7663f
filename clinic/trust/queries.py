"""Reads of the trail and of openings, for the lead."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from clinic.people.models import AuditEvent, Client, User
from clinic.people.queries import clients_for, sites_for
from clinic.people.refusal import NotThere
from clinic.people.rules.contacts import search_form
from clinic.people.vocab import Role
from clinic.trust.models import Opening, Seal
from clinic.trust.rules.chain import Break, Facts, Head, Link, walk

UNSEALED_AFTER = timedelta(minutes=30)   # many ticks of the sealing task: older rows without a seal need a look
CHUNK = 2000


@dataclass(frozen=True, slots=True)
class Verdict:
    """What walking the whole chain found: its head, the first break, events too long without a seal, whether a head kept
    elsewhere is still in the chain (None when none was given)."""

    head: Head
    first_break: Break | None
    unsealed: int
    known_head: bool | None

    @property
    def whole(self) -> bool:
        """Whether nothing speaks against the trail."""
        return self.first_break is None and self.unsealed == 0 and self.known_head is not False


def facts_of(event: AuditEvent) -> Facts:
    """One event as the chain covers it."""
    return {
        "id": event.pk, "at": event.at.astimezone(UTC).isoformat(timespec="microseconds"), "by": event.by_id,
        "verb": event.verb, "record": event.record, "client": event.client_id, "detail": event.detail,
    }


def unsealed() -> QuerySet[AuditEvent]:
    """Events that no link covers yet, oldest first."""
    return AuditEvent.objects.filter(seal__isnull=True).order_by("pk")


def head() -> Head:
    """The newest link as stored."""
    newest = Seal.objects.order_by("-number").values_list("number", "digest").first()
    return Head(*newest) if newest else Head()


def _links() -> Iterator[Link]:
    # an outer join, so that a link whose event is gone is still seen
    events: dict[int, AuditEvent] = {}
    rows = Seal.objects.order_by("number").values_list("number", "digest", "event_id")
    chunk: list[tuple[int, str, int]] = []

    def told() -> Iterator[Link]:
        events.update(AuditEvent.objects.in_bulk([event for _, _, event in chunk]))
        for number, digest, event in chunk:
            found = events.get(event)
            yield Link(number, digest, event, facts_of(found) if found else None)
        chunk.clear()
        events.clear()

    for row in rows.iterator(chunk_size=CHUNK):
        chunk.append(row)
        if len(chunk) == CHUNK:
            yield from told()
    yield from told()


def verdict(*, now: datetime, known: Head | None = None) -> Verdict:
    """Walk the whole chain, CHUNK links in memory at a time. `known` is a head noted elsewhere: without it, links cut
    off the end are not seen."""
    end, first_break = walk(_links())
    there = None
    if known is not None:
        there = known == Head() or Seal.objects.filter(number=known.number, digest=known.digest).exists()
    late = unsealed().filter(at__lt=now - UNSEALED_AFTER).count()
    return Verdict(end, first_break, late, there)


def trail_of(user: User, client: Client) -> QuerySet[AuditEvent]:
    """Who did or saw what of this client's record, the newest first; for the lead only."""
    if user.role != Role.LEAD:
        raise NotThere
    return AuditEvent.objects.filter(client=client).select_related("by", "by__staff")


def openings_for(user: User) -> QuerySet[Opening]:
    """Openings at the lead's sites, and a clinician's own; the newest first."""
    rows = Opening.objects.select_related("clinician", "client")
    if not user.is_active:
        return rows.none()
    if user.role == Role.CLINICIAN:
        return rows.filter(clinician__user=user)
    if user.role == Role.LEAD:
        return rows.filter(client__in=clients_for(user))
    return rows.none()


def opening_for(user: User, public_id: UUID | str) -> Opening:
    """One opening the user may see."""
    found = openings_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def client_named(user: User, name: str, born: date) -> Client | None:
    """The one client of the clinician's sites with exactly this full name (accents and case aside) and birth date.

    None when there is none or more than one: whoever asks cannot tell these apart, so that names are not tried out.
    """
    at_sites = Client.objects.filter(site__in=sites_for(user), birth_date=born, archived__isnull=True)
    wanted = search_form(name).split()
    found = [row for row in at_sites.select_related("site", "user")[:200] if search_form(row.name).split() == wanted]
    return found[0] if len(found) == 1 else None
