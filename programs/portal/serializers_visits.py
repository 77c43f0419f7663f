"""How a visit is told to its client."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from rest_framework import serializers

from clinic.booking.rules.notice import last_moment
from clinic.booking.vocab import AppointmentStatus


class VisitOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    starts = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    zone = serializers.CharField(source="site.zone")
    site = serializers.CharField(source="site.name")
    clinician = serializers.CharField(source="clinician.name")
    visit_type = serializers.SerializerMethodField(help_text="Its name in the client's language")
    status = serializers.ChoiceField(choices=AppointmentStatus.choices)
    change_until = serializers.SerializerMethodField(help_text="Until then clients change it themselves")
    in_group = serializers.SerializerMethodField(help_text="Others come at the same time")

    def get_change_until(self, visit: Any) -> datetime:
        return last_moment(visit.starts, visit.site.notice_hours)

    def get_in_group(self, visit: Any) -> bool:
        return visit.place_id is not None

    def get_visit_type(self, visit: Any) -> str:
        return str(visit.visit_type.name_in(visit.client.language))
