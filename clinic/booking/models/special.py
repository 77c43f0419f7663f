"""Days and hours that differ from the usual ones."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.people.models import Site, Staff


class SpecialHours(models.Model):
    """A day on which a site is closed, or hours that a clinician works beside the usual ones."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    is_open = models.BooleanField(help_text="True: extra hours of a clinician; False: everybody is away")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    name = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["starts", "pk"]
        verbose_name_plural = "special hours"
        indexes = [models.Index(fields=["site", "starts"], name="special_hours_span")]   # the openings of a site
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="special_hours_end_after_start"),
            models.CheckConstraint(
                condition=Q(is_open=True, clinician__isnull=False) | Q(is_open=False, clinician__isnull=True),
                name="special_hours_of_one_or_all",
            ),
            models.UniqueConstraint(fields=["site", "starts"], condition=Q(is_open=False), name="closed_day_once"),
        ]
