"""What the API says about a message: when and what became of it, never its words."""

from __future__ import annotations

from rest_framework import serializers

from clinic.people.vocab import Channel
from clinic.reminders.vocab import MessageState


class MessageOut(serializers.Serializer[object]):
    """One message. Exactly one of `client` and `staff` is set; `reason` is a code."""

    id = serializers.UUIDField(source="public_id")
    kind = serializers.CharField()
    client = serializers.UUIDField(source="client.public_id", default=None, allow_null=True)
    staff = serializers.UUIDField(source="staff.public_id", default=None, allow_null=True)
    channel = serializers.ChoiceField(choices=Channel.choices)
    due = serializers.DateTimeField()
    not_after = serializers.DateTimeField()
    state = serializers.ChoiceField(choices=MessageState.choices)
    reason = serializers.CharField(allow_blank=True)
    attempts = serializers.IntegerField(min_value=0)
    resends = serializers.IntegerField(min_value=0)
    sent_at = serializers.DateTimeField(allow_null=True)


class ReportIn(serializers.Serializer[object]):
    """What a gateway reports of one text message; `to` is the number it went to."""

    id = serializers.UUIDField()
    to = serializers.CharField(max_length=32)
    status = serializers.ChoiceField(choices=["delivered", "failed"])
    error = serializers.CharField(max_length=80, allow_blank=True, default="")
