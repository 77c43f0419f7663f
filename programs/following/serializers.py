"""What the following routes take and give, with explicit bounds."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from programs.following.vocab import RedFlag, SuggestionKind, SuggestionState


class LogBehind(serializers.Serializer[Any]):
    log_id = serializers.UUIDField()
    day = serializers.DateField()


class EvidenceOut(serializers.Serializer[Any]):
    rule = serializers.CharField()
    observed = serializers.DictField()
    threshold = serializers.DictField()
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment]  # the name of DRF's own attribute
    logs = LogBehind(many=True)
    change = serializers.DictField()


class SuggestionOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    program = serializers.UUIDField(source="program.public_id")
    client = serializers.UUIDField(source="program.client.public_id")
    item = serializers.UUIDField(source="item_key", allow_null=True)
    kind = serializers.ChoiceField(choices=SuggestionKind.choices)
    state = serializers.ChoiceField(choices=SuggestionState.choices)
    evidence = EvidenceOut()
    revision = serializers.IntegerField(source="revision.number", help_text="Made against")
    made = serializers.DateTimeField()
    decided_at = serializers.DateTimeField(allow_null=True)
    decision_reason = serializers.CharField(allow_blank=True)
    resulting_revision = serializers.IntegerField(source="resulting_revision.number", allow_null=True, default=None)


class AcceptIn(serializers.Serializer[Any]):
    effective_from = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="Tomorrow in the client's zone when left out"
    )
    note = serializers.CharField(max_length=300, required=False, allow_blank=True, default="")


class AlterIn(serializers.Serializer[Any]):
    level = serializers.IntegerField(min_value=1, max_value=99, required=False, allow_null=True, default=None)
    amount = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=3600), min_length=2, max_length=2, required=False,
        allow_null=True, default=None, help_text="Least and full: seconds, repetitions or minutes",
    )
    days = serializers.IntegerField(min_value=1, max_value=366, required=False, allow_null=True, default=None)
    effective_from = serializers.DateField(
        required=False, allow_null=True, default=None, help_text="Tomorrow when left out; the due day of a reassessment"
    )
    note = serializers.CharField(max_length=300, required=False, allow_blank=True, default="")


class DeclineIn(serializers.Serializer[Any]):
    reason = serializers.CharField(max_length=300)


class AlertOut(serializers.Serializer[Any]):
    """A red-flag answer as the front desk may see it."""

    id = serializers.UUIDField(source="public_id")
    client = serializers.UUIDField(source="client.public_id")
    client_name = serializers.CharField(source="client.name")
    phone = serializers.CharField(source="client.phone", allow_blank=True)
    at = serializers.DateTimeField()
    closed_at = serializers.DateTimeField(allow_null=True)


class ClinicalAlertOut(AlertOut):
    """The same with the answer and the note, for clinicians and leads."""

    flag = serializers.ChoiceField(choices=RedFlag.choices)
    note = serializers.CharField(allow_blank=True)


class AlertRow(AlertOut):
    """What the API describes: `flag` and `note` are left out for the front desk."""

    flag = serializers.ChoiceField(choices=RedFlag.choices, required=False)
    note = serializers.CharField(allow_blank=True, required=False)


class CloseIn(serializers.Serializer[Any]):
    note = serializers.CharField(max_length=2000)
