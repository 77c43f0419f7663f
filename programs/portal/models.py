"""Where a client is signed in, and the tokens that read and write in their name."""

from __future__ import annotations

import uuid

from django.db import models

from clinic.people.models import Client, Site, User
from programs.portal.vocab import DeviceKind


class Device(models.Model):
    """One signed-in browser of a client. Gone when its session is."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    session_key = models.CharField(max_length=40, unique=True)
    kind = models.CharField(max_length=8, choices=[(kind.value, kind.value) for kind in DeviceKind])
    first = models.DateTimeField(help_text="When somebody signed in there")
    last = models.DateTimeField(help_text="When it was last heard from; to the hour")

    class Meta:
        ordering = ["-last", "-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(last__gte=models.F("first")), name="device_last_after_first")
        ]


class AccessToken(models.Model):
    """A secret that stands in for a client at the API, for some scopes only. Only its hash is kept.

    Of one client (`client`), made by themselves; or of a clinic's own portal (`site`), made by the lead: that one acts for
    clients of the site who agreed, one named in each request.
    """

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, null=True, on_delete=models.PROTECT, related_name="tokens")
    site = models.ForeignKey(Site, null=True, on_delete=models.PROTECT, related_name="tokens")
    label = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True, help_text="SHA-256")
    scopes = models.JSONField(default=list)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField()
    expires = models.DateTimeField()
    ended = models.DateTimeField(null=True)
    last_used = models.DateTimeField(null=True, help_text="To the minute")

    class Meta:
        ordering = ["-created", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(client__isnull=True, site__isnull=False)
                | models.Q(client__isnull=False, site__isnull=True),
                name="token_of_a_client_or_a_site",
            ),
            models.CheckConstraint(condition=models.Q(expires__gt=models.F("created")), name="token_expires_after_made"),
        ]


class Agreement(models.Model):
    """A client let a clinic's own portal act for them, from `since` on; `until` is when they took it back."""

    token = models.ForeignKey(AccessToken, on_delete=models.PROTECT, related_name="agreements")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    since = models.DateTimeField()
    until = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["token", "client"], condition=models.Q(until__isnull=True), name="agreement_open_once"
            ),
            models.CheckConstraint(
                condition=models.Q(until__isnull=True) | models.Q(until__gte=models.F("since")),
                name="agreement_until_after_since",
            ),
        ]
