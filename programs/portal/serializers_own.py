"""What the client's API takes and gives beside the program: times, reminders, devices, measures."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from clinic.people.vocab import BodySide, Channel
from clinic.visits.queries import change_of
from clinic.visits.vocab import Direction
from programs.portal.vocab import DeviceKind

CHANGES = ["improved_beyond_mcid", "changed_beyond_error", "no_detectable_change", "worse_beyond_mcid", "not_judged"]
CLOCK = r"^([01][0-9]|2[0-3]):[0-5][0-9]$"   # a time on the client's clock; the format `time` would need an offset
HALF_HOUR = r"^([01][0-9]|2[0-3]):[03]0$"


class TimeOut(serializers.Serializer[Any]):
    starts = serializers.DateTimeField()
    ends = serializers.DateTimeField()
    clinician = serializers.CharField(source="clinician.name")
    places_left = serializers.IntegerField(source="left", allow_null=True, help_text="Of a group that can be joined")


class TimesOut(serializers.Serializer[Any]):
    """Times a visit can move to, in order; none for a kind that only the clinic moves."""

    zone = serializers.CharField(help_text="IANA zone of the site")
    openings = TimeOut(many=True)


class BookOwnIn(serializers.Serializer[Any]):
    kind = serializers.SlugField(
        max_length=32, required=False, default="", allow_blank=True, help_text="Code; empty: the usual"
    )
    start = serializers.DateTimeField(help_text="One of the openings, with an offset")


class MoveIn(serializers.Serializer[Any]):
    start = serializers.DateTimeField(help_text="One of the openings, with an offset")


class RemindersIn(serializers.Serializer[Any]):
    """All of it counts at once; no channel stops every reminder."""

    channels = serializers.ListField(child=serializers.ChoiceField(choices=Channel.choices), max_length=len(Channel))
    quiet_from = serializers.RegexField(CLOCK, help_text="No messages from this local time …")
    quiet_until = serializers.RegexField(CLOCK, help_text="… to this one")
    nudge_at = serializers.RegexField(
        HALF_HOUR, required=False, allow_null=True,
        help_text="When to be reminded on days with a session, by the client's clock; null: never; left out: as it is",
    )


class RemindersOut(serializers.Serializer[Any]):
    channels = serializers.ListField(child=serializers.ChoiceField(choices=Channel.choices))
    quiet_from = serializers.RegexField(CLOCK)
    quiet_until = serializers.RegexField(CLOCK)
    nudge_at = serializers.RegexField(HALF_HOUR, allow_null=True)


class PushIn(serializers.Serializer[Any]):
    """What a browser's PushSubscription says (W3C Push API)."""

    endpoint = serializers.URLField(max_length=500)
    p256dh = serializers.CharField(max_length=100, help_text="Its public key, base64url")
    auth = serializers.CharField(max_length=32, help_text="Its secret, base64url")


class PushOffIn(serializers.Serializer[Any]):
    endpoint = serializers.URLField(max_length=500)


class PushOut(serializers.Serializer[Any]):
    key = serializers.CharField(help_text="To subscribe with, base64url; empty: the clinic sends none")
    devices = serializers.IntegerField(help_text="How many show notifications")


class DeviceOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    kind = serializers.ChoiceField(choices=[kind.value for kind in DeviceKind])
    first = serializers.DateTimeField()
    last = serializers.DateTimeField(help_text="To the hour")
    here = serializers.SerializerMethodField(help_text="The one that asks")

    def get_here(self, device: Any) -> bool:
        return bool(device.session_key == self.context.get("session_key"))


class MeasuredOut(serializers.Serializer[Any]):
    """One measured value beside the first of its measure and side."""

    id = serializers.UUIDField(source="public_id")
    episode = serializers.UUIDField(source="episode.public_id")
    measure = serializers.SlugField(source="measure.code")
    name = serializers.CharField(source="measure.name")
    side = serializers.ChoiceField(choices=BodySide.choices)
    value = serializers.FloatField()
    first = serializers.FloatField()
    unit = serializers.CharField(source="measure.unit")
    better = serializers.ChoiceField(choices=Direction.choices, source="measure.direction")
    at = serializers.DateTimeField()
    change = serializers.SerializerMethodField(help_text="What the difference from the first value means")

    @extend_schema_field(serializers.ChoiceField(choices=CHANGES))
    def get_change(self, row: Any) -> str:
        return change_of(row.measure, row.first, row.value).code
