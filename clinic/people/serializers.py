"""What the people routes take and give, with explicit bounds."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from clinic.people.vocab import BodySide, ConditionCode, EpisodeStatus, Region


class ClientIn(serializers.Serializer[Any]):
    site = serializers.CharField(max_length=80, help_text="The site's name")
    given_name = serializers.CharField(max_length=120)
    family_name = serializers.CharField(max_length=120, required=False, allow_blank=True, default="")
    birth_date = serializers.DateField(required=False, allow_null=True, default=None)
    email = serializers.CharField(max_length=254, required=False, allow_blank=True, default="")
    phone = serializers.CharField(max_length=40, required=False, allow_blank=True, default="")
    language = serializers.ChoiceField(choices=["en", "es"], default="en")
    zone = serializers.CharField(max_length=64, required=False, allow_blank=True, default="")
    conditions = serializers.ListField(
        child=serializers.ChoiceField(choices=ConditionCode.choices), required=False, default=list, max_length=20
    )
    consent_email = serializers.BooleanField(default=False)
    consent_sms = serializers.BooleanField(default=False)


class ClientOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    given_name = serializers.CharField()
    family_name = serializers.CharField()
    birth_date = serializers.DateField(allow_null=True)
    email = serializers.CharField()
    phone = serializers.CharField()
    language = serializers.CharField()
    zone = serializers.CharField()
    site = serializers.CharField(source="site.name")


class EpisodeIn(serializers.Serializer[Any]):
    lead = serializers.UUIDField(help_text="The clinician's id")
    region = serializers.ChoiceField(choices=Region.choices)
    side = serializers.ChoiceField(choices=BodySide.choices, default=BodySide.NONE)
    complaint = serializers.CharField(max_length=200)
    goals = serializers.CharField(max_length=2000, required=False, allow_blank=True, default="")
    visits_allowed = serializers.IntegerField(min_value=1, max_value=200, required=False, allow_null=True, default=None)
    referral_expires = serializers.DateField(required=False, allow_null=True, default=None)


class EpisodeOut(serializers.Serializer[Any]):
    """An episode as the desk may see it: who leads it and its dates."""

    id = serializers.UUIDField(source="public_id")
    client = serializers.UUIDField(source="client.public_id")
    lead = serializers.UUIDField(source="lead.public_id")
    status = serializers.ChoiceField(choices=EpisodeStatus.choices)
    opened = serializers.DateField()
    visits_allowed = serializers.IntegerField(allow_null=True)
    referral_expires = serializers.DateField(allow_null=True)
