"""Calendars that another program may fetch from a secret address."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.booking.models.book import Room
from clinic.booking.vocab import FeedKind
from clinic.people.models import User


class CalendarFeed(models.Model):
    """A secret address of the visits of its owner, or of a room. Only the secret's hash is kept.

    It shows what the owner may see at that moment, and nothing once they may not sign in.
    """

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=10, choices=FeedKind.choices)
    owner = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    room = models.ForeignKey(Room, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    secret_hash = models.CharField(max_length=64, unique=True, help_text="SHA-256")
    created = models.DateTimeField()
    last_used = models.DateTimeField(null=True, blank=True, help_text="To the minute")
    ended = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=FeedKind.values), name="feed_kind_known"),
            models.CheckConstraint(
                condition=Q(kind="room", room__isnull=False) | (~Q(kind="room") & Q(room__isnull=True)),
                name="feed_room_if_of_a_room",
            ),
            models.CheckConstraint(condition=Q(ended__isnull=True) | Q(ended__gte=F("created")), name="feed_ended_after"),
        ]
