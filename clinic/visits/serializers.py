"""What the visits routes take and give, with explicit bounds. Nothing clinical about a reassessment."""

from __future__ import annotations

from datetime import date
from typing import Any

from rest_framework import serializers

from clinic.people.vocab import BodySide
from clinic.visits.queries import row_of
from clinic.visits.rules.window import STATES
from clinic.visits.vocab import ReassessmentReason


class ReassessmentOut(serializers.Serializer[Any]):
    """Where a reassessment stands today."""

    id = serializers.UUIDField()
    client = serializers.UUIDField(help_text="The client's id")
    episode = serializers.UUIDField(help_text="The episode's id")
    clinician = serializers.UUIDField(help_text="The id of whom the visit is or should be with")
    reason = serializers.ChoiceField(choices=ReassessmentReason.choices)
    earliest = serializers.DateField()
    due = serializers.DateField()
    latest = serializers.DateField()
    state = serializers.ChoiceField(choices=STATES)
    days = serializers.IntegerField(help_text="To the window, to or since the due day, or to the visit")
    booked_for = serializers.DateTimeField(allow_null=True)


def reassessment_out(row: Any, today: date) -> dict[str, Any]:
    """The plain values of ReassessmentOut for a reassessment."""
    standing = row_of(row, today)
    clinician = row.appointment.clinician if row.appointment else row.episode.lead
    return {
        "id": row.public_id, "client": row.episode.client.public_id, "episode": row.episode.public_id,
        "clinician": clinician.public_id, "reason": row.reason, "earliest": row.earliest, "due": row.due,
        "latest": row.latest, "state": standing.state, "days": standing.days, "booked_for": standing.booked_for,
    }


class BookIn(serializers.Serializer[Any]):
    clinician = serializers.UUIDField(help_text="The clinician's id")
    start = serializers.DateTimeField(help_text="ISO 8601 with an offset, on a 5-minute tick")


class BookedOut(serializers.Serializer[Any]):
    """The visit that was booked."""

    id = serializers.UUIDField(source="public_id", help_text="The appointment's id")
    starts = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    clinician = serializers.UUIDField(source="clinician.public_id")
    room = serializers.CharField(source="room.name")


class ResultIn(serializers.Serializer[Any]):
    measure = serializers.SlugField(max_length=32)
    side = serializers.ChoiceField(choices=BodySide.choices, default=BodySide.NONE)
    values = serializers.ListField(
        child=serializers.FloatField(allow_null=True), min_length=1, max_length=60, help_text="null is a missing item"
    )


class ResultOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    measure = serializers.CharField(source="measure.code")
    side = serializers.ChoiceField(choices=BodySide.choices)
    value = serializers.FloatField()
    unit = serializers.CharField(source="measure.unit")
    at = serializers.DateTimeField()
