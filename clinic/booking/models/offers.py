"""Who waits for an hour, and what becomes of an hour that is given back."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.booking.models.book import Appointment, VisitType
from clinic.booking.vocab import OfferState, Priority, WaitState
from clinic.people.models import Client, Episode, Staff, User


class WaitlistEntry(models.Model):
    """Somebody who would come when an hour becomes free, with what they wish for; an empty wish leaves it open."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="waitlist")
    visit_type = models.ForeignKey(VisitType, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    weekdays = models.JSONField(default=list, help_text="0 is Monday; none: any")
    earliest = models.TimeField(null=True, blank=True, help_text="Local time a visit may start from …")
    latest = models.TimeField(null=True, blank=True, help_text="… and until")
    until = models.DateField(null=True, blank=True, help_text="The last day that helps")
    priority = models.PositiveSmallIntegerField(choices=Priority.choices, default=Priority.SOON)
    state = models.CharField(max_length=12, choices=WaitState.choices, default=WaitState.WAITING)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["priority", "at", "pk"]
        verbose_name_plural = "waitlist"
        constraints = [
            models.UniqueConstraint(
                fields=["client", "visit_type"], condition=Q(state="waiting"), name="waitlist_once_per_client_and_type"
            ),
            models.CheckConstraint(condition=Q(priority__in=Priority.values), name="waitlist_priority_known"),
            models.CheckConstraint(
                condition=Q(earliest__isnull=True) | Q(latest__isnull=True) | Q(latest__gt=F("earliest")),
                name="waitlist_hours_in_order",
            ),
        ]


class Offer(models.Model):
    """A freed hour offered to one client. While it is open its visit is pending and holds the hour."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    freed = models.ForeignKey(Appointment, on_delete=models.PROTECT, related_name="offers", help_text="Whose hour it was")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="offers")
    visit_type = models.ForeignKey(VisitType, on_delete=models.PROTECT, related_name="+")
    entry = models.ForeignKey(WaitlistEntry, null=True, on_delete=models.PROTECT, related_name="offers")
    due_earliest = models.DateField(null=True, help_text="The window of the look it would answer …")
    due_latest = models.DateField(null=True, help_text="… both or neither")
    episode = models.ForeignKey(Episode, null=True, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    minutes = models.PositiveSmallIntegerField(help_text="How long the client has for an answer")
    state = models.CharField(max_length=12, choices=OfferState.choices, default=OfferState.QUEUED)
    visit = models.OneToOneField(Appointment, null=True, on_delete=models.PROTECT, related_name="offer")
    expires = models.DateTimeField(null=True)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["freed", "position", "pk"]
        indexes = [models.Index(fields=["state", "expires"], name="offer_expiring")]   # the tick
        constraints = [
            models.UniqueConstraint(fields=["freed"], condition=Q(state="open"), name="offer_one_open_at_a_time"),
            models.UniqueConstraint(fields=["freed"], condition=Q(state="accepted"), name="offer_first_yes_wins"),
            models.CheckConstraint(
                condition=~Q(state__in=["open", "accepted"]) | Q(visit__isnull=False, expires__isnull=False),
                name="offer_open_holds_a_visit",
            ),
        ]
