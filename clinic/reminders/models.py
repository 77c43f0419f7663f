"""The outbox: the only copy of a message until it has been handed over."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q

from clinic.people.models import Client, Staff, User
from clinic.people.vocab import Channel
from clinic.reminders.vocab import HoldReason, MessageState, Outcome


class Message(models.Model):
    """One message to one person, written in the transaction that causes it."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=40)
    client = models.ForeignKey(Client, null=True, on_delete=models.PROTECT, related_name="messages")
    staff = models.ForeignKey(Staff, null=True, on_delete=models.PROTECT, related_name="messages")
    channel = models.CharField(max_length=8, choices=Channel.choices, default=Channel.EMAIL)
    about = models.CharField(max_length=80, help_text="kind:public id of what it is about")
    values = models.JSONField(default=dict, help_text="A first name and times; nothing else")
    dedup_key = models.CharField(max_length=160, unique=True)
    due = models.DateTimeField()
    not_after = models.DateTimeField()
    state = models.CharField(max_length=8, choices=MessageState.choices, default=MessageState.PENDING)
    reason = models.CharField(max_length=40, blank=True, help_text="Why skipped or failed")
    attempts = models.PositiveSmallIntegerField(default=0)
    claimed_by = models.CharField(max_length=40, blank=True)
    lease_until = models.DateTimeField(null=True)
    handed_over_at = models.DateTimeField(null=True, help_text="Set just before the channel is called")
    resends = models.PositiveSmallIntegerField(
        default=0, help_text="Sent again because a worker died between hand-over and record: once at most"
    )
    sent_at = models.DateTimeField(null=True)
    created = models.DateTimeField()

    class Meta:
        ordering = ["-created", "-pk"]
        # small whatever has been sent before: what a sweep looks for, and what the lists of the desk show
        indexes = [
            models.Index(fields=["channel", "due", "id"], condition=Q(state=MessageState.PENDING), name="message_waiting"),
            models.Index(fields=["lease_until"], condition=Q(state=MessageState.CLAIMED), name="message_claimed"),
            models.Index(
                fields=["-created", "-id"], condition=Q(state__in=[MessageState.FAILED, MessageState.UNKNOWN]),
                name="message_needs_a_person",
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(client__isnull=False) ^ Q(staff__isnull=False), name="message_has_one_recipient"
            ),
            models.CheckConstraint(condition=Q(not_after__gte=models.F("due")), name="message_useful_after_due"),
            models.CheckConstraint(condition=Q(state__in=MessageState.values), name="message_state_known"),
        ]


    # what it is about, read for many messages at once before they are judged; see `Kind.look_up`
    found: Any = None
    looked_up = False


class PushDevice(models.Model):
    """A browser that a client lets show notifications: where they are handed over and what they are sealed with."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="push_devices")
    endpoint = models.CharField(max_length=500, unique=True)
    p256dh = models.CharField(max_length=100, help_text="Its public key, base64url")
    auth = models.CharField(max_length=32, help_text="Its secret, base64url")
    session_key = models.CharField(max_length=40, blank=True, help_text="The sign-in it ends with; empty: none")
    since = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["session_key"], name="push_session")]


class Pace(models.Model):
    """From when on the next message may leave by a channel whose pace is limited."""

    channel = models.CharField(max_length=8, choices=Channel.choices, unique=True)
    free_from = models.DateTimeField()


class InboxMessage(models.Model):
    """Mail kept on a page instead of being sent: the embedded mode's post box."""

    to = models.CharField(max_length=254)
    subject = models.CharField(max_length=300)
    body = models.TextField()
    message_id = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]


class Heartbeat(models.Model):
    """The last time a named piece of background work ran to its end."""

    name = models.CharField(max_length=40, unique=True)
    at = models.DateTimeField()


class Hold(models.Model):
    """Nothing leaves the outbox while one of these stands: after a restore, or because somebody said so."""

    since = models.DateTimeField()
    why = models.CharField(max_length=12, choices=HoldReason.choices)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+", help_text="Empty: a command")
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-since", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["why"], condition=models.Q(lifted_at__isnull=True), name="hold_once_per_reason"),
        ]


class Suppression(models.Model):
    """An address that a server or gateway says does not exist: nothing goes there until the desk lifts it with a reason."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    channel = models.CharField(max_length=8, choices=Channel.choices)
    address = models.CharField(max_length=254, help_text="Small letters")
    client = models.ForeignKey(Client, null=True, on_delete=models.PROTECT, related_name="suppressions")
    staff = models.ForeignKey(Staff, null=True, on_delete=models.PROTECT, related_name="suppressions")
    since = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    lifted_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-since", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["channel", "address"], condition=Q(lifted_at__isnull=True), name="address_suppressed_once"
            ),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True) | ~Q(lifted_why=""), name="suppression_lifted_with_a_reason"
            ),
        ]


class DeliveryReport(models.Model):
    """A report of a gateway that was taken in: the same one again changes nothing."""

    report_id = models.CharField(max_length=80, unique=True)
    message = models.ForeignKey(Message, on_delete=models.PROTECT, related_name="reports")
    outcome = models.CharField(max_length=12, choices=Outcome.choices)
    at = models.DateTimeField()
