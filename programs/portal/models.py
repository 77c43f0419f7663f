"""Where a client is signed in."""

from __future__ import annotations

import uuid

from django.db import models

from clinic.people.models import User
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
