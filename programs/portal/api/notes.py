"""The client's notes over the API."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from clinic.people.access import me
from clinic.people.apibase import Pages, RoleView, idempotent
from clinic.people.openapi import paged
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from programs.following.actions.read_notes import read_notes
from programs.following.actions.write_note import write_note
from programs.following.notes import own_notes
from programs.following.rules.notes import MOST_TEXT
from programs.portal.api.program import PERSON, same_person
from programs.portal.queries.own import chosen_program
from programs.portal.vocab import Scope


class NoteOut(serializers.Serializer[Any]):
    """One note of a conversation; what was written with a session's log is one as well."""

    note_id = serializers.UUIDField()
    program = serializers.UUIDField(source="program.public_id")
    session = serializers.UUIDField(source="log.log_id", allow_null=True, default=None, help_text="log_id of the session")
    from_client = serializers.BooleanField()
    author = serializers.CharField(source="by.staff.name", allow_null=True, default=None, help_text="null: the client")
    text = serializers.CharField(source="words")
    at = serializers.DateTimeField()
    read_at = serializers.DateTimeField(
        source="read.at", allow_null=True, default=None, help_text="By the other side; null when not yet"
    )


class NoteIn(serializers.Serializer[Any]):
    note_id = serializers.UUIDField(help_text="Made by the sender: the same one twice is one note")
    program = serializers.UUIDField()
    session = serializers.UUIDField(required=False, allow_null=True, default=None, help_text="log_id it is about")
    text = serializers.CharField(max_length=MOST_TEXT)
    read_until = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text="note_id of the newest note that was shown"
    )


class ReadIn(serializers.Serializer[Any]):
    program = serializers.UUIDField()
    read_until = serializers.UUIDField(help_text="note_id of the newest note that was shown")


class ReadOut(serializers.Serializer[Any]):
    read = serializers.IntegerField(help_text="How many were newly read")


class NotePages(Pages):
    ordering = ("-at", "-pk")   # type: ignore[assignment]   # DRF takes several as well


class Notes(RoleView):
    """Notes to and from the clinician, the newest first."""

    roles = {"GET": (Role.CLIENT,), "POST": (Role.CLIENT,)}
    scopes = {"GET": Scope.NOTES, "POST": Scope.NOTES}

    @extend_schema(operation_id="list_my_notes", responses={200: paged(NoteOut)})
    def get(self, request: Request) -> Response:
        pages = NotePages()
        rows = pages.paginate_queryset(own_notes(me(request)), request, self)
        return pages.get_paginated_response(NoteOut(rows, many=True).data)

    @extend_schema(operation_id="write_my_note", parameters=[PERSON], request=NoteIn, responses={200: NoteOut})
    @idempotent
    def post(self, request: Request) -> Response:
        same_person(request)
        given = NoteIn(data=request.data)
        given.is_valid(raise_exception=True)
        values = given.validated_data
        program = chosen_program(me(request), values["program"])[1]
        if program is None:
            raise NotThere
        note = write_note(
            by=me(request), program=program, note_id=values["note_id"], text=values["text"], log_id=values["session"],
            read_until=values["read_until"], now=timezone.now(),
        )
        return Response(NoteOut(note).data)


class ReadNotes(RoleView):
    """What was shown has been read."""

    roles = {"POST": (Role.CLIENT,)}
    scopes = {"POST": Scope.NOTES}

    @extend_schema(operation_id="read_my_notes", parameters=[PERSON], request=ReadIn, responses={200: ReadOut})
    @idempotent
    def post(self, request: Request) -> Response:
        same_person(request)
        given = ReadIn(data=request.data)
        given.is_valid(raise_exception=True)
        program = chosen_program(me(request), given.validated_data["program"])[1]
        if program is None:
            raise NotThere
        read = read_notes(
            by=me(request), program=program, until=given.validated_data["read_until"], now=timezone.now()
        )
        return Response({"read": read})
