"""Group visits: one clinician and one room for several clients at once."""

from __future__ import annotations

import uuid

from django.contrib.postgres.fields import RangeBoundary, RangeOperators
from django.db import models
from django.db.models import F, Q
from django.db.models.lookups import Exact

from clinic.booking.constraints import OffGrid, PostgresExclusion, TsTzRange
from clinic.booking.models.book import MOST_PLACES, Room, VisitType
from clinic.people.models import Site, Staff, User


def _free(name: str, resource: str) -> PostgresExclusion:
    span = TsTzRange("busy_from", "busy_until", RangeBoundary())
    return PostgresExclusion(
        name=name, expressions=[(resource, RangeOperators.EQUAL), (span, RangeOperators.OVERLAPS)],
        condition=Q(called_off_at__isnull=True),
    )


class GroupVisit(models.Model):
    """A time at which a group meets. It holds the clinician and the room, even while nobody has joined; a client who joins
    has a visit of their own, with one of its places."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="+")
    visit_type = models.ForeignKey(VisitType, on_delete=models.PROTECT, related_name="+")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    busy_from = models.DateTimeField()
    busy_until = models.DateTimeField()
    version = models.PositiveIntegerField(default=1, help_text="iCalendar SEQUENCE + 1")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    called_off_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["starts", "pk"]
        indexes = [models.Index(fields=["site", "starts"], name="group_visit_site")]   # the day view, the openings
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="group_visit_ends_after_start"),
            models.CheckConstraint(
                condition=Q(busy_from__lte=F("starts")) & Q(busy_until__gte=F("ends")), name="group_visit_busy_covers"
            ),
            models.CheckConstraint(condition=Exact(OffGrid(F("starts")), 0), name="group_visit_starts_on_grid"),
            _free("group_visit_clinician_free", "clinician"),
            _free("group_visit_room_free", "room"),
        ]


class GroupPlace(models.Model):
    """One place of a group: there are as many rows as places, and a place is held by one visit at a time."""

    group = models.ForeignKey(GroupVisit, on_delete=models.CASCADE, related_name="places")
    number = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["group", "number"]
        constraints = [
            models.UniqueConstraint(fields=["group", "number"], name="group_place_once"),
            models.CheckConstraint(condition=Q(number__gte=1, number__lte=MOST_PLACES), name="group_place_number"),
        ]
