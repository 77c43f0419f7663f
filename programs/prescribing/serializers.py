"""What the API of programs takes and gives."""

from __future__ import annotations

from datetime import date
from typing import Any

from rest_framework import serializers

from programs.prescribing.queries import pauses_of, plans_of
from programs.prescribing.rules.plan_json import plan_to_json
from programs.prescribing.rules.timeline import in_force
from programs.prescribing.vocab import ProgramStatus


class TemplateOut(serializers.Serializer[Any]):
    slug = serializers.SlugField()
    name = serializers.CharField()
    summary = serializers.CharField()
    plan = serializers.JSONField()


class TemplateIn(serializers.Serializer[Any]):
    """Keep the newest plan of a program as a template of the client's site."""

    program = serializers.UUIDField()
    name = serializers.CharField(max_length=80)
    summary = serializers.CharField(max_length=300, required=False, allow_blank=True, default="")


class TemplateWordsIn(serializers.Serializer[Any]):
    """New words for a template; what is left out stays."""

    name = serializers.CharField(max_length=80, required=False)
    summary = serializers.CharField(max_length=300, required=False, allow_blank=True)


class ProgramFilterIn(serializers.Serializer[Any]):
    """The filters of the list of programs."""

    client = serializers.UUIDField(required=False)
    status = serializers.ChoiceField(choices=ProgramStatus.choices, required=False)


class ProgramRow(serializers.Serializer[Any]):
    """One program in a list."""

    id = serializers.UUIDField(source="public_id")
    client = serializers.UUIDField(source="client.public_id")
    episode = serializers.UUIDField(source="episode.public_id")
    clinician = serializers.UUIDField(source="clinician.public_id")
    title = serializers.CharField()
    status = serializers.ChoiceField(choices=ProgramStatus.choices)
    starts = serializers.DateField()
    ended = serializers.DateField(allow_null=True)


class PauseOut(serializers.Serializer[Any]):
    first = serializers.DateField()
    until = serializers.DateField(allow_null=True, help_text="This day counts again; null while it is paused")
    reason = serializers.CharField()


class RevisionOut(serializers.Serializer[Any]):
    id = serializers.UUIDField(source="public_id")
    number = serializers.IntegerField()
    effective_from = serializers.DateField()
    anchor = serializers.DateField(help_text="Day one of the first phase")
    reason = serializers.CharField()
    at = serializers.DateTimeField()


class ProgramOut(ProgramRow):
    """One program with the plan of its newest revision; `counting` is the revision that counts today."""

    revision = serializers.IntegerField()
    counting = serializers.IntegerField(allow_null=True)
    effective_from = serializers.DateField()
    anchor = serializers.DateField()
    plan = serializers.JSONField()
    revisions = RevisionOut(many=True)
    pauses = PauseOut(many=True)


def program_out(program: Any, today: date) -> dict[str, Any]:
    """The body of one program."""
    versions = plans_of(program)
    newest, plan = versions[-1]
    return {
        **ProgramRow(program).data,
        "revision": newest.number,
        "counting": in_force([(revision.effective_from, revision.number) for revision, _ in versions], today),
        "effective_from": newest.effective_from.isoformat(),
        "anchor": newest.anchor.isoformat(),
        "plan": plan_to_json(plan),
        "revisions": RevisionOut([revision for revision, _ in versions], many=True).data,
        "pauses": PauseOut(pauses_of(program), many=True).data,
    }


class ProgramIn(serializers.Serializer[Any]):
    """A program to give: a template by its slug, or a plan."""

    episode = serializers.UUIDField()
    title = serializers.CharField(max_length=80)
    starts = serializers.DateField()
    template = serializers.SlugField(required=False)
    plan = serializers.JSONField(required=False)
    override_reason = serializers.CharField(required=False, allow_blank=True, max_length=300, default="")
    screening_reason = serializers.CharField(required=False, allow_blank=True, max_length=300, default="")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("template" in attrs) == ("plan" in attrs):
            raise serializers.ValidationError({"plan": "Send a plan or a template, one of the two."})
        return attrs


class RevisionIn(serializers.Serializer[Any]):
    """A change; the revision it is based on comes in If-Match."""

    plan = serializers.JSONField()
    effective_from = serializers.DateField()
    anchor = serializers.DateField(required=False, help_text="Day one of the first phase; as before when left out")
    reason = serializers.CharField(max_length=300)
    override_reason = serializers.CharField(required=False, allow_blank=True, max_length=300, default="")
    screening_reason = serializers.CharField(required=False, allow_blank=True, max_length=300, default="")


class PauseIn(serializers.Serializer[Any]):
    reason = serializers.CharField(max_length=200)


class EndIn(serializers.Serializer[Any]):
    status = serializers.ChoiceField(choices=[ProgramStatus.COMPLETED, ProgramStatus.REVOKED])
