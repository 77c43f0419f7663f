"""What the client's API takes and gives, with explicit bounds on every number."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from programs.following.rules.entry import MOST_EDIT, MOST_ITEMS, MOST_LEVEL, MOST_REPS, MOST_SECONDS, MOST_WORDS
from programs.following.vocab import Rating, RedFlag, SkipReason
from programs.library.rules.dose import dose_to_json
from programs.library.vocab import DoseSide, Equipment
from programs.portal.vocab import Stand
from programs.prescribing.vocab import PhaseKind, TimeOfDay, Weekday

MOST_ENTRIES = 100   # sessions handed over at once
WAYS = ["", "date", "decision"]


def _scale(**more: Any) -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=10, **more)


def _maybe_scale() -> serializers.IntegerField:
    return _scale(required=False, allow_null=True, default=None)


class MeOut(serializers.Serializer[Any]):
    """Who is signed in, and whom to call. No family name, no birth date."""

    id = serializers.UUIDField(source="public_id")
    first_name = serializers.CharField(source="given_name")
    language = serializers.CharField()
    zone = serializers.CharField()
    clinic = serializers.CharField(source="site.name")
    clinic_phone = serializers.CharField(source="site.phone")
    emergency_number = serializers.CharField(source="site.emergency_number")


class RangeOut(serializers.Serializer[Any]):
    minimum = serializers.IntegerField()
    full = serializers.IntegerField()


class StepOut(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(choices=["work", "rest", "change"])
    side = serializers.ChoiceField(choices=["left", "right", "both"])
    seconds = serializers.IntegerField()
    number = serializers.IntegerField()
    of = serializers.IntegerField()
    reps = serializers.IntegerField()


class OtherLevelOut(serializers.Serializer[Any]):
    """A level beside the prescribed one that the client may take for a day; the dose stays as it is."""

    level = serializers.IntegerField(source="level.number")
    way = serializers.ChoiceField(choices=["easier", "harder"])
    level_name = serializers.CharField(source="words.name")
    cues = serializers.ListField(source="words.cues", child=serializers.CharField())
    drawing = serializers.JSONField(source="level.drawing", help_text="The joint angles of its poses, in degrees")
    dose = serializers.JSONField()


class CardOut(serializers.Serializer[Any]):
    """One exercise of today."""

    item_key = serializers.UUIDField(source="item.key")
    exercise = serializers.SlugField(source="item.exercise")
    name = serializers.CharField(source="words.name", help_text="This and the sentences below in the client's language")
    level = serializers.IntegerField(source="item.level")
    level_name = serializers.CharField(source="level_words.name")
    equipment = serializers.ListField(source="exercise.equipment", child=serializers.ChoiceField(Equipment.choices))
    side = serializers.ChoiceField(source="item.side", choices=DoseSide.choices)
    dose = serializers.SerializerMethodField()
    rounds = RangeOut(source="item.rounds")
    note = serializers.CharField(source="item.note")
    setup = serializers.CharField(source="words.setup")
    cues = serializers.ListField(source="level_words.cues", child=serializers.CharField())
    feel = serializers.CharField(source="words.feel")
    not_feel = serializers.CharField(source="words.not_feel")
    least_seconds = serializers.IntegerField(source="least")
    steps = StepOut(many=True)
    other_levels = OtherLevelOut(source="beside", many=True, help_text="Empty unless the clinician left the choice")

    def get_dose(self, card: Any) -> dict[str, Any]:
        return dose_to_json(card.item.dose)


class PhaseTodayOut(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(source="phase.kind", choices=PhaseKind.choices)
    day = serializers.IntegerField(source="day_of_phase")
    of = serializers.IntegerField(source="phase.days", allow_null=True)
    sessions = RangeOut(allow_null=True)
    minimum_seconds = serializers.IntegerField()
    full_seconds = serializers.IntegerField()


class TodayOut(serializers.Serializer[Any]):
    day = serializers.DateField()
    stand = serializers.ChoiceField(choices=[stand.value for stand in Stand])
    stopped = serializers.SerializerMethodField(help_text="A red-flag answer is open: no session is asked for")
    program = serializers.UUIDField(source="program.public_id", allow_null=True, default=None)
    title = serializers.CharField(source="program.title", allow_null=True, default=None)
    revision = serializers.UUIDField(source="revision.public_id", allow_null=True, default=None)
    phase = PhaseTodayOut(source="asked", allow_null=True)
    sessions_done = serializers.IntegerField(source="done")
    next_day = serializers.DateField(allow_null=True)
    morning_due = serializers.DateField(source="morning", allow_null=True)
    other_programs = serializers.SerializerMethodField()
    unread_notes = serializers.IntegerField(source="unread", help_text="From the clinic, in all programs together")
    items = CardOut(source="cards", many=True)

    def get_stopped(self, today: Any) -> bool:
        return today.alert is not None

    def get_other_programs(self, today: Any) -> list[str]:
        return [str(program.public_id) for program in today.others]


class AheadDayOut(serializers.Serializer[Any]):
    """One day of the days ahead."""

    day = serializers.DateField()
    stand = serializers.ChoiceField(choices=[stand.value for stand in Stand])
    revision = serializers.UUIDField(source="revision.public_id", allow_null=True, default=None)
    phase = PhaseTodayOut(source="asked", allow_null=True)


class AheadCardsOut(serializers.Serializer[Any]):
    """The exercises of one revision."""

    revision = serializers.SerializerMethodField()
    items = serializers.SerializerMethodField()

    def get_revision(self, pair: Any) -> UUID:
        return UUID(str(pair[0].public_id))

    @extend_schema_field(CardOut(many=True))
    def get_items(self, pair: Any) -> Any:
        return CardOut(pair[1], many=True).data


class AheadProgramOut(serializers.Serializer[Any]):
    program = serializers.UUIDField(source="program.public_id")
    days = AheadDayOut(many=True)
    revisions = AheadCardsOut(source="cards", many=True)


class AheadOut(serializers.Serializer[Any]):
    """What a phone keeps for when there is no signal."""

    day = serializers.DateField()
    stopped = serializers.BooleanField(help_text="A red-flag answer is open: no session is asked for")
    programs = AheadProgramOut(many=True)


class PhaseOut(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=PhaseKind.choices)
    first = serializers.DateField(allow_null=True)
    last = serializers.DateField(allow_null=True)
    sessions = RangeOut()
    days_per_week = serializers.IntegerField()
    weekdays = serializers.ListField(
        child=serializers.ChoiceField(choices=Weekday.choices), help_text="The fixed days; empty: spread evenly"
    )
    times = serializers.ListField(child=serializers.ChoiceField(choices=TimeOfDay.choices), help_text="Empty: at any time")
    minutes = serializers.ListField(child=serializers.IntegerField(), help_text="Least and all, on a day with sessions")
    waits = serializers.ChoiceField(choices=WAYS, help_text="What ends it: nothing, a date, or the clinician's decision")
    now = serializers.BooleanField()


class RibbonDayOut(serializers.Serializer[Any]):
    day = serializers.DateField()
    state = serializers.ChoiceField(choices=["session", "rest", "paused", "silent"])
    minimum = serializers.IntegerField()
    full = serializers.IntegerField()
    done = serializers.IntegerField(allow_null=True)
    today = serializers.BooleanField()


class WeeksOut(serializers.Serializer[Any]):
    day = serializers.DateField()
    stand = serializers.ChoiceField(choices=[stand.value for stand in Stand])
    program = serializers.UUIDField(source="program.public_id", allow_null=True, default=None)
    next_change = serializers.DateField(allow_null=True)
    phases = PhaseOut(many=True)
    days = RibbonDayOut(source="ribbon", many=True)


class ItemIn(serializers.Serializer[Any]):
    item_key = serializers.UUIDField()
    done_left = serializers.IntegerField(min_value=0, max_value=MOST_SECONDS, default=0)
    done_right = serializers.IntegerField(min_value=0, max_value=MOST_SECONDS, default=0)
    reps_last_set = serializers.IntegerField(
        min_value=0, max_value=MOST_REPS, required=False, allow_null=True, default=None
    )
    rating = serializers.ChoiceField(choices=Rating.choices, allow_blank=True, default="")
    skipped = serializers.ChoiceField(choices=SkipReason.choices, allow_blank=True, default="")
    level = serializers.IntegerField(
        min_value=1, max_value=MOST_LEVEL, required=False, allow_null=True, default=None,
        help_text="The level that was done: the prescribed one or one of its `other_levels`; null is the prescribed one",
    )


class SessionIn(serializers.Serializer[Any]):
    """One session. `log_id` is made by the phone; a correction has the same one and a higher `edit`."""

    log_id = serializers.UUIDField()
    edit = serializers.IntegerField(min_value=0, max_value=MOST_EDIT, default=0)
    revision = serializers.UUIDField(help_text="The revision that was shown")
    day = serializers.DateField(help_text="In the client's zone")
    started = serializers.DateTimeField(required=False, allow_null=True, default=None)
    pain_before = _maybe_scale()
    pain_during = _maybe_scale()
    effort = _maybe_scale()
    rating = serializers.ChoiceField(choices=Rating.choices, allow_blank=True, default="")
    words = serializers.CharField(max_length=MOST_WORDS, allow_blank=True, default="")
    items = serializers.ListField(child=ItemIn(), max_length=MOST_ITEMS)


class BatchIn(serializers.Serializer[Any]):
    """Up to 100 sessions. Each is looked at by itself, in the shape of `SessionIn`."""

    sessions = serializers.ListField(child=serializers.JSONField(allow_null=True), min_length=1, max_length=MOST_ENTRIES)


class BatchShape(serializers.Serializer[Any]):
    """How a batch is described: the reading itself takes anything, so that one bad entry costs no other."""

    sessions = serializers.ListField(child=SessionIn(), min_length=1, max_length=MOST_ENTRIES)


class HandedOut(serializers.Serializer[Any]):
    """What became of one entry. A refused one says why; the phone keeps it."""

    place = serializers.IntegerField(help_text="In the batch, from 0")
    log_id = serializers.UUIDField(allow_null=True)
    result = serializers.ChoiceField(choices=["stored", "already", "edited", "refused"])
    older_plan = serializers.BooleanField()
    code = serializers.CharField()
    reason = serializers.CharField()
    errors = serializers.DictField(   # type: ignore[assignment]   # the same word as in problem details
        help_text="Sentences by field"
    )


class BatchOut(serializers.Serializer[Any]):
    results = HandedOut(many=True)


class MorningIn(serializers.Serializer[Any]):
    answer_id = serializers.UUIDField()
    program = serializers.UUIDField()
    day = serializers.DateField(help_text="The day of the session")
    pain = _scale()


class MorningOut(serializers.Serializer[Any]):
    answer_id = serializers.UUIDField()
    day = serializers.DateField()
    pain = serializers.IntegerField()


class AlertIn(serializers.Serializer[Any]):
    answer_id = serializers.UUIDField()
    flag = serializers.ChoiceField(choices=RedFlag.choices)


class AlertOut(serializers.Serializer[Any]):
    """What to do now."""

    answer_id = serializers.UUIDField()
    stop = serializers.BooleanField()
    emergency_number = serializers.CharField()
    clinic_phone = serializers.CharField()
