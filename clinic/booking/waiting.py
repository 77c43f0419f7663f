"""Reads of the waitlist and of offers, and the search for whom a freed hour suits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db.models import QuerySet

from clinic.booking import recalls
from clinic.booking.models import Appointment, Offer, VisitType, WaitlistEntry
from clinic.booking.queries import appointments_for
from clinic.booking.rules import matching
from clinic.booking.series_preview import Board
from clinic.booking.vocab import HOLDING, AppointmentStatus, OfferState, WaitState
from clinic.people.models import Client, Episode, User
from clinic.people.queries import clients_for
from clinic.people.refusal import NotThere
from clinic.people.rules import zones

SHOWN = 8
GIVE_UP = timedelta(hours=1)   # before it begins an hour is not offered any more


@dataclass(frozen=True)
class Match:
    """A client a freed hour suits, with why; `entry` or `recall` says where the wish comes from."""

    key: str
    client: Client
    visit_type: VisitType
    reasons: tuple[str, ...]
    days: int
    entry: WaitlistEntry | None
    recall: recalls.Recall | None


def waitlist_for(user: User) -> QuerySet[WaitlistEntry]:
    """Who waits, of the clients the user may see; the most urgent and longest first."""
    rows = WaitlistEntry.objects.filter(state=WaitState.WAITING, client__in=clients_for(user), client__archived__isnull=True)
    return rows.select_related("client__site", "visit_type", "clinician")


def waitlist_entry_for(user: User, public_id: UUID | str) -> WaitlistEntry:
    """One entry of a client the user may see."""
    found = WaitlistEntry.objects.filter(client__in=clients_for(user), public_id=public_id)
    row = found.select_related("client__site", "visit_type").first()
    if row is None:
        raise NotThere
    return row


def offers_for(user: User) -> QuerySet[Offer]:
    """Offers a person may see: a client their own, staff those of hours they may see."""
    rows = Offer.objects.select_related(
        "client__site", "visit_type", "freed__clinician", "freed__site", "visit__clinician", "visit__visit_type",
        "visit__site",
    )
    own = clients_for(user)
    return rows.filter(client__in=own) if user.role == "client" else rows.filter(freed__in=appointments_for(user))


def offer_for(user: User, public_id: UUID | str) -> Offer:
    """One offer the user may see."""
    found = offers_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def open_offers(user: User, now: datetime) -> QuerySet[Offer]:
    """The hours that are held for the signed-in client, the soonest first."""
    return offers_for(user).filter(state=OfferState.OPEN, expires__gt=now).order_by("freed__starts", "pk")


def open_offer_of(visit: Appointment) -> Offer | None:
    """The offer whose hour the visit holds, while it is open. No rights are asked here."""
    return Offer.objects.filter(visit=visit, state=OfferState.OPEN).first()


def queue_of(freed: Appointment) -> list[Offer]:
    """Everybody the hour was offered to, in turn. No rights are asked here."""
    return list(Offer.objects.filter(freed=freed).select_related("client", "visit_type", "visit").order_by("position", "pk"))


def is_free_again(freed: Appointment, now: datetime) -> bool:
    """Whether a visit has given its hour back and there is time left to offer it."""
    gone = freed.status == AppointmentStatus.CANCELLED
    return gone and freed.starts - GIVE_UP > now and not hasattr(freed, "offer")


def matches(user: User, freed: Appointment, now: datetime) -> list[Match]:
    """Whom the hour suits best, of the clients the user may see: who waits, and who is due. Nobody who has a visit then."""
    local = freed.starts.astimezone(zones.zone(freed.site.zone))
    slot = matching.Slot(local.date(), local.time(), freed.clinician_id)
    people: dict[str, Match] = {}
    wishes: list[matching.Candidate] = []
    mine = set(clients_for(user).filter(site=freed.site).values_list("pk", flat=True))
    leads = dict(Episode.objects.filter(status="active", client__in=mine).order_by("pk").values_list("client", "lead"))
    for entry in waitlist_for(user).filter(client__site=freed.site):
        key = f"w{entry.public_id}"
        wishes.append(_wish_of(key, entry, leads.get(entry.client_id), freed.site.zone))
        people[key] = Match(key, entry.client, entry.visit_type, (), 0, entry, None)
    review = VisitType.objects.filter(is_reassessment=True).first()
    for recall in recalls.due_at(freed.site, local.date()) if review else []:
        if recall.client.pk in mine and review is not None:
            key = f"r{recall.public_id}"
            wishes.append(matching.Candidate(
                key, recall.due, own_clinician=recall.clinician_pk, window=(recall.earliest, recall.due, recall.latest)
            ))
            people[key] = Match(key, recall.client, review, (), 0, None, recall)
    found = [
        Match(key, each.client, each.visit_type, best.reasons, best.days, each.entry, each.recall)
        for best in matching.rank(slot, wishes, len(wishes)) for key in [best.candidate.key] for each in [people[key]]
    ]
    return _who_can(freed, found, local.time(), now)


def _wish_of(key: str, entry: WaitlistEntry, lead: int | None, zone: str) -> matching.Candidate:
    return matching.Candidate(
        key, zones.day_in(entry.at, zone), entry.priority, entry.clinician_id, lead, frozenset(entry.weekdays),
        entry.earliest, entry.latest, entry.until,
    )


def _who_can(freed: Appointment, found: list[Match], at: time, now: datetime) -> list[Match]:
    """Those whose kind of visit fits into the hour, once each, who have no other visit then and were not asked yet."""
    day = zones.day_in(freed.starts, freed.site.zone)
    fits: dict[int, bool] = {}
    asked = set(Offer.objects.filter(freed=freed).values_list("client", flat=True)) | {freed.client_id}
    ends = freed.starts + timedelta(hours=8)
    busy: dict[int, list[Any]] = {}
    rows = Appointment.objects.filter(
        client__in=[each.client.pk for each in found], status__in=HOLDING, starts__lt=ends, ends__gt=freed.starts
    )
    for client, starts in rows.values_list("client", "starts"):
        busy.setdefault(client, []).append(starts)
    chosen: list[Match] = []
    for each in found:
        kind = each.visit_type
        if kind.pk not in fits:
            board = Board(
                client=None, site=freed.site, visit_type=kind, clinician=freed.clinician, first=day, last=day, now=now
            )
            fits[kind.pk] = board.look(day, at).problem is None
        until = freed.starts + timedelta(minutes=kind.minutes)
        if fits[kind.pk] and each.client.pk not in asked and all(starts >= until for starts in busy.get(each.client.pk, [])):
            asked.add(each.client.pk)
            chosen.append(each)
    return chosen[:SHOWN]
