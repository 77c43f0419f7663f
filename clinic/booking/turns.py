"""The turn of an offer: holding the freed hour for one client after another, inside the caller's transaction."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from clinic.booking import claiming
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, Offer
from clinic.booking.signals import appointment_changed
from clinic.booking.telling import tell_client
from clinic.booking.vocab import AppointmentStatus, CancelReason, OfferState
from clinic.booking.waiting import GIVE_UP
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal

AT_LEAST = timedelta(minutes=5)   # less time for an answer is none


def open_next(freed: Appointment, *, by: User, now: datetime) -> Offer | None:
    """Hold the hour for the next in turn and tell them; whoever cannot have it is passed over. None at the queue's end."""
    queue = Offer.objects.select_for_update(of=("self",)).filter(freed=freed, state=OfferState.QUEUED)
    for offer in queue.select_related("client__site", "visit_type", "episode").order_by("position", "pk"):
        until = min(now + timedelta(minutes=offer.minutes), freed.starts - GIVE_UP)
        try:
            if until - now < AT_LEAST:
                raise Refusal("too_late", "There is no time left for an answer.")
            with transaction.atomic():
                visit = book_visit(
                    by=by, client=offer.client, visit_type=offer.visit_type, clinician=freed.clinician,
                    start=freed.starts, now=now, episode=offer.episode, due_earliest=offer.due_earliest,
                    due_latest=offer.due_latest, remind=False, held=True,
                )
        except Refusal as refusal:
            if refusal.status >= 500:
                raise
            offer.state = OfferState.IMPOSSIBLE
            offer.save(update_fields=["state"])
            continue
        offer.state, offer.visit, offer.expires = OfferState.OPEN, visit, until
        offer.save(update_fields=["state", "visit", "expires"])
        tell_client("visit_offered", visit, by=by, now=now)
        return offer
    return None


def give_back(offer: Offer, state: OfferState, *, by: User, now: datetime) -> None:
    """End an open offer: its visit is cancelled without a message and the hour is free again."""
    visit = offer.visit
    offer.state = state
    offer.save(update_fields=["state"])
    if visit is None or visit.status != AppointmentStatus.PENDING:
        return
    visit.status, visit.cancel_reason, visit.version = AppointmentStatus.CANCELLED, CancelReason.OFFER, visit.version + 1
    visit.changed_at = now
    visit.save(update_fields=["status", "cancel_reason", "version", "changed_at"])
    claiming.release(visit)
    audit.record(
        by=by, verb="end_offer", kind="offer", public_id=offer.public_id, at=now, client=offer.client, state=str(state)
    )
    appointment_changed.send(sender=Appointment, appointment=visit, now=now, by=by)


def locked_offer(offer: Offer) -> Offer:
    """The offer as it is now, locked until the transaction ends, after its queue's hour, so that turns follow one another."""
    list(Appointment.objects.select_for_update(of=("self",)).filter(pk=offer.freed_id).values("pk"))
    list(Offer.objects.select_for_update().filter(pk=offer.pk).order_by().values("pk"))
    return Offer.objects.select_related(
        "freed__clinician", "freed__site", "client__site", "visit_type", "visit__clinician", "visit__room",
        "visit__visit_type", "visit__site", "visit__client", "entry",
    ).get(pk=offer.pk)
