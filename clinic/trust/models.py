"""The sealed trail, and openings of records beyond one's caseload."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.people.models import AppendOnly, AuditEvent, Client, Site, Staff, User
from clinic.trust.rules.keeping import LIMITS


class Seal(AppendOnly):
    """One link of the chain over the trail; rules.chain says what the digest covers."""

    number = models.PositiveBigIntegerField(primary_key=True)
    event = models.OneToOneField(AuditEvent, on_delete=models.PROTECT, related_name="seal")
    digest = models.CharField(max_length=64)
    at = models.DateTimeField()


class Opening(models.Model):
    """A clinician opened the record of a client who is not theirs, for a written reason and a limited time."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="openings")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="openings")
    reason = models.CharField(max_length=300)
    begins = models.DateTimeField()
    ends = models.DateTimeField()

    class Meta:
        ordering = ["-begins", "-pk"]
        indexes = [models.Index(fields=["clinician", "ends"], name="opening_current")]   # people.queries.clients_for
        constraints = [
            models.CheckConstraint(condition=Q(ends__gte=F("begins")), name="opening_ends_after_begin"),
            models.CheckConstraint(condition=Q(reason__length__gte=15), name="opening_has_a_reason"),
        ]


def _within(name: str) -> Q:
    least, most = LIMITS[name]
    return Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__gte": least, f"{name}__lte": most})


class Retention(models.Model):
    """How long a site keeps what; empty: for ever. Local law decides, the lead writes it down."""

    site = models.OneToOneField(Site, on_delete=models.PROTECT, related_name="retention")
    record_years = models.PositiveSmallIntegerField(null=True, help_text="A record that was put away")
    message_months = models.PositiveSmallIntegerField(null=True, help_text="What stood in a message")
    proof_days = models.PositiveSmallIntegerField(null=True, help_text="Links and sessions, once they open nothing any more")
    key_days = models.PositiveSmallIntegerField(null=True, help_text="Answers kept for requests that are sent twice")
    changed = models.DateTimeField()
    changed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=_within(name), name=f"retention_{name}_within") for name in LIMITS
        ]
