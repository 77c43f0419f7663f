"""What happened at a visit, what was measured, and when to look again."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.booking.models import Appointment
from clinic.people.models import AppendOnly, Episode, Staff, User
from clinic.people.vocab import BodySide
from clinic.visits.vocab import Direction, ReassessmentReason, ReassessmentStatus, Scoring


class Visit(AppendOnly):
    """The record of an attended visit; a correction is a new row that supersedes it."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="visits")
    appointment = models.ForeignKey(Appointment, null=True, on_delete=models.PROTECT, related_name="visits")
    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    note = models.TextField(blank=True, max_length=8000)
    supersedes = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="superseded_by")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]


class Measure(models.Model):
    """An outcome measure by its scoring structure; item wording is never stored."""

    code = models.SlugField(max_length=32, unique=True)
    name = models.CharField(max_length=120)
    scoring = models.CharField(max_length=24, choices=Scoring.choices)
    items = models.PositiveSmallIntegerField(default=1)
    item_minimum = models.FloatField()
    item_maximum = models.FloatField()
    minimum_answered = models.PositiveSmallIntegerField(default=1)
    unit = models.CharField(max_length=16, blank=True)
    direction = models.CharField(max_length=8, choices=Direction.choices)
    mdc = models.FloatField(null=True, blank=True)
    mdc_confidence = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Percent")
    mcid = models.FloatField(null=True, blank=True)
    by_side = models.BooleanField(default=False)
    side_mdc = models.FloatField(null=True, blank=True, help_text="Smallest difference between the sides beyond error")
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Result(AppendOnly):
    """One measured value."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="results")
    visit = models.ForeignKey(Visit, null=True, on_delete=models.PROTECT, related_name="results")
    measure = models.ForeignKey(Measure, on_delete=models.PROTECT, related_name="+")
    side = models.CharField(max_length=8, choices=BodySide.choices, default=BodySide.NONE)
    value = models.FloatField()
    item_values = models.JSONField(default=list)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]


class Reassessment(models.Model):
    """A look at the measures that is due between two dates."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="reassessments")
    reason = models.CharField(max_length=16, choices=ReassessmentReason.choices)
    earliest = models.DateField()
    due = models.DateField()
    latest = models.DateField()
    status = models.CharField(max_length=12, choices=ReassessmentStatus.choices, default=ReassessmentStatus.OPEN)
    appointment = models.ForeignKey(
        Appointment, null=True, blank=True, on_delete=models.PROTECT, related_name="reassessments"
    )
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["due", "pk"]
        indexes = [models.Index(fields=["status", "due"], name="reassessment_due")]   # the overdue list
        constraints = [
            models.UniqueConstraint(
                fields=["episode", "reason"], condition=Q(status="open"), name="reassessment_open_once_per_reason"
            ),
            models.CheckConstraint(
                condition=Q(earliest__lte=F("due")) & Q(due__lte=F("latest")), name="reassessment_window_in_order"
            ),
        ]
