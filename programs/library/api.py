"""The exercise library through the API, for clinicians and the practice lead."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.apibase import Pages, RoleView
from clinic.people.openapi import paged
from clinic.people.vocab import ConditionCode, Region, Role
from programs.library import queries
from programs.library.templatetags.library_tags import dose_words
from programs.library.vocab import DoseSide, Equipment, Kind, Severity

READERS = (Role.CLINICIAN, Role.LEAD)


class LevelSerializer(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    name = serializers.CharField()
    harder_because = serializers.CharField()
    cues = serializers.ListField(child=serializers.CharField())
    dose = serializers.JSONField()
    dose_words = serializers.SerializerMethodField()

    def get_dose_words(self, level: Any) -> str:
        return dose_words(level.dose)


class PrecautionSerializer(serializers.Serializer[Any]):
    condition = serializers.ChoiceField(ConditionCode.choices)
    severity = serializers.ChoiceField(Severity.choices)
    reason = serializers.CharField()


class ExerciseSerializer(serializers.Serializer[Any]):
    slug = serializers.SlugField()
    name = serializers.CharField()
    region = serializers.ChoiceField(Region.choices)
    kind = serializers.ChoiceField(Kind.choices)
    side = serializers.ChoiceField(DoseSide.choices)
    equipment = serializers.ListField(child=serializers.CharField())
    levels = LevelSerializer(many=True)


class WholeExerciseSerializer(ExerciseSerializer):
    setup = serializers.CharField()
    setup_seconds = serializers.IntegerField()
    feel = serializers.CharField()
    not_feel = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]  # a field of ours, not the serializer's own attribute
    precautions = PrecautionSerializer(many=True)


class FilterSerializer(serializers.Serializer[Any]):
    """The filters of the list."""

    text = serializers.CharField(max_length=80, required=False, default="", allow_blank=True)
    region = serializers.ChoiceField(Region.choices, required=False, default="", allow_blank=True)
    kind = serializers.ChoiceField(Kind.choices, required=False, default="", allow_blank=True)
    equipment = serializers.ChoiceField(Equipment.choices, required=False, default="", allow_blank=True)


class ExercisePages(Pages):
    ordering = "slug"


class ExerciseListView(RoleView):
    """GET: cursor pages of exercises; text, region, kind and equipment filter."""

    roles = {"GET": READERS}

    @extend_schema(
        operation_id="exercises", responses=paged(ExerciseSerializer),
        parameters=[FilterSerializer, OpenApiParameter("cursor", str), OpenApiParameter("page_size", int)],
    )
    def get(self, request: Request) -> Response:
        asked = FilterSerializer(data=request.query_params)
        asked.is_valid(raise_exception=True)
        pages = ExercisePages()
        rows = pages.paginate_queryset(queries.exercises(**asked.validated_data), request, self)
        return pages.get_paginated_response(ExerciseSerializer(rows, many=True).data)


class ExerciseView(RoleView):
    """GET: one exercise with its levels and precautions."""

    roles = {"GET": READERS}

    @extend_schema(operation_id="exercise", responses=WholeExerciseSerializer)
    def get(self, request: Request, slug: str) -> Response:
        return Response(WholeExerciseSerializer(queries.exercise(slug)).data)
