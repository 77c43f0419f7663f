"""The shapes of booking's API, with bounds on every value."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.core.validators import MaxValueValidator, MinValueValidator
from rest_framework import serializers

from clinic.booking.vocab import AppointmentStatus, CancelReason

EARLIEST, LATEST = date(1970, 1, 2), date(2200, 1, 1)   # days that the book can hold


def _day(**how: Any) -> serializers.DateField:
    return serializers.DateField(validators=[MinValueValidator(EARLIEST), MaxValueValidator(LATEST)], **how)


class LocalStart(serializers.Serializer[Any]):
    """A time on the clock of the site."""

    day = _day()
    time = serializers.TimeField(input_formats=["%H:%M", "%H:%M:%S"])


class WhenIn(serializers.Serializer[Any]):
    """`start` as an instant with an offset, or `local` as day and time at the site; exactly one of them."""

    start = serializers.CharField(max_length=40, required=False)
    local = LocalStart(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("start" in attrs) == ("local" in attrs):
            raise serializers.ValidationError({"start": ["Give either start or local."]})
        return attrs


class BookVisitIn(WhenIn):
    client = serializers.UUIDField()
    clinician = serializers.UUIDField()
    visit_type = serializers.SlugField(max_length=32)
    room = serializers.CharField(max_length=60, required=False)
    note = serializers.CharField(max_length=200, required=False, allow_blank=True)
    due_earliest = _day(required=False, allow_null=True)
    due_latest = _day(required=False, allow_null=True)


class MoveVisitIn(WhenIn):
    clinician = serializers.UUIDField(required=False)
    room = serializers.CharField(max_length=60, required=False)


class CancelVisitIn(serializers.Serializer[Any]):
    reason = serializers.ChoiceField(choices=CancelReason.choices)


class MarkVisitIn(serializers.Serializer[Any]):
    status = serializers.ChoiceField(choices=AppointmentStatus.choices)


class RangeIn(serializers.Serializer[Any]):
    """Days to list, both included, on the clock of the caller's first site."""

    first = _day(required=False)
    last = _day(required=False)


class OpeningsIn(serializers.Serializer[Any]):
    visit_type = serializers.SlugField(max_length=32)
    clinician = serializers.UUIDField(required=False)
    client = serializers.UUIDField(required=False)
    first = _day(required=False)
    last = _day(required=False)
    limit = serializers.IntegerField(min_value=1, max_value=100, default=20)


class PersonOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    name = serializers.CharField()


class AppointmentOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    client = PersonOut()
    clinician = PersonOut()
    room = serializers.CharField(source="room.name")
    visit_type = serializers.CharField(source="visit_type.code")
    starts = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    zone = serializers.CharField(source="site.zone", help_text="IANA zone of the site")
    status = serializers.ChoiceField(choices=AppointmentStatus.choices, help_text="FHIR R4 Appointment.status")
    cancel_reason = serializers.CharField(allow_blank=True)
    due_earliest = serializers.DateField(allow_null=True)
    due_latest = serializers.DateField(allow_null=True)
    note = serializers.CharField(allow_blank=True)
    group = serializers.SerializerMethodField(help_text="The group it has a place in")
    version = serializers.IntegerField()


    def get_group(self, visit: Any) -> UUID | None:
        return visit.place.group.public_id if visit.place else None


class OpeningOut(serializers.Serializer[Any]):
    clinician = PersonOut()
    room = serializers.CharField(source="room.name")
    starts = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    reasons = serializers.ListField(child=serializers.CharField())
    places_left = serializers.IntegerField(source="left", allow_null=True, help_text="Of a group that can be joined")
    places = serializers.IntegerField(allow_null=True, help_text="How many the group has")


class OpeningsOut(serializers.Serializer[Any]):
    openings = OpeningOut(many=True)
