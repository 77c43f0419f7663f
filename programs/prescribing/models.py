"""Home programs: immutable revisions, each holding phases and items."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import F, Q

from clinic.people.models import AppendOnly, Client, Episode, Site, Staff, User
from programs.library.models import Exercise, Level
from programs.library.vocab import DoseSide
from programs.prescribing.vocab import Advance, Intensity, Leeway, PhaseKind, ProgramStatus


class Template(models.Model):
    """A program the practice gives often. `plan` is the JSON form of rules.plan."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    slug = models.SlugField(max_length=48, unique=True)
    name = models.CharField(max_length=80)
    summary = models.CharField(max_length=300, blank=True)
    plan = models.JSONField()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Program(models.Model):
    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="programs")
    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="programs")
    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="programs")
    title = models.CharField(max_length=80)
    status = models.CharField(max_length=12, choices=ProgramStatus.choices, default=ProgramStatus.DRAFT)
    starts = models.DateField(help_text="The first day, in the client's zone")
    ended = models.DateField(null=True, blank=True)
    created = models.DateTimeField()
    external_ref = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["-starts", "-pk"]
        indexes = [models.Index(fields=["clinician", "status"], name="program_caseload")]   # a clinician's caseload
        constraints = [
            models.UniqueConstraint(
                fields=["episode"], condition=Q(status__in=["active", "on-hold"]), name="program_open_once_per_episode"
            ),
            models.CheckConstraint(condition=Q(status__in=ProgramStatus.values), name="program_status_known"),
            models.CheckConstraint(
                condition=Q(ended__isnull=True) | Q(ended__gte=F("starts")), name="program_end_after_start"
            ),
            models.UniqueConstraint(
                fields=["client", "external_ref"], condition=~Q(external_ref=""), name="program_external_ref_once"
            ),
        ]


class Revision(AppendOnly):
    """One version of a program, effective from a day. Its phases count from `anchor`."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    effective_from = models.DateField()
    anchor = models.DateField(help_text="Day one of the first phase")
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300)
    at = models.DateTimeField()

    class Meta:
        ordering = ["program", "number"]
        constraints = [
            models.UniqueConstraint(fields=["program", "number"], name="revision_number_once"),
            models.CheckConstraint(condition=Q(anchor__lte=F("effective_from")), name="revision_anchor_not_later"),
        ]


def _bits(field: str, count: int) -> Any:
    """How many of the lowest `count` bits of a field are set, as an expression any database can work out."""
    total: Any = F(field).bitand(1)
    for place in range(1, count):
        total = total + F(field).bitand(1 << place) / (1 << place)
    return total


class Phase(AppendOnly):
    """How often, for how long. `days` empty means open-ended.

    `weekdays` and `times` hold one bit for each of rules.plan.WEEKDAYS and TIMES, the first the lowest; 0 leaves it open.
    """

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="phases")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=PhaseKind.choices)
    days = models.PositiveSmallIntegerField(null=True)
    sessions_minimum = models.PositiveSmallIntegerField(default=1)
    sessions_full = models.PositiveSmallIntegerField(default=1)
    days_per_week = models.PositiveSmallIntegerField(default=7)
    advance = models.CharField(max_length=12, choices=Advance.choices, default=Advance.BY_DATE)
    weekdays = models.PositiveSmallIntegerField(default=0)
    times = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["revision", "number"]
        constraints = [
            models.UniqueConstraint(fields=["revision", "number"], name="phase_number_once"),
            models.CheckConstraint(
                condition=Q(days_per_week__gte=1) & Q(days_per_week__lte=7), name="phase_days_in_week"
            ),
            models.CheckConstraint(
                condition=Q(sessions_minimum__gte=1) & Q(sessions_minimum__lte=F("sessions_full")),
                name="phase_sessions_in_order",
            ),
            models.CheckConstraint(condition=Q(days__isnull=True) | Q(days__gte=1), name="phase_has_days"),
            models.CheckConstraint(
                condition=Q(weekdays=0) | Q(weekdays__lte=127, days_per_week=_bits("weekdays", 7)),
                name="phase_weekdays_as_many_as_said",
            ),
            models.CheckConstraint(
                condition=Q(times=0) | Q(times__lte=7, sessions_full=_bits("times", 3)), name="phase_time_for_each_session"
            ),
        ]


class Item(AppendOnly):
    """One exercise in a revision. `key` stays the same through revisions, so that an item can be followed."""

    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="items")
    key = models.UUIDField()
    position = models.PositiveSmallIntegerField()
    exercise = models.ForeignKey(Exercise, on_delete=models.PROTECT, related_name="+")
    level = models.ForeignKey(Level, on_delete=models.PROTECT, related_name="+")
    side = models.CharField(max_length=12, choices=DoseSide.choices)
    dose = models.JSONField()
    rounds_minimum = models.PositiveSmallIntegerField(default=1)
    rounds_full = models.PositiveSmallIntegerField(default=1)
    priority = models.PositiveSmallIntegerField(default=1, help_text="1 is kept longest when time is short")
    note = models.CharField(max_length=200, blank=True)
    # without a default: SQLite would build the table anew, and lose its trigger
    leeway = models.CharField(
        max_length=8, choices=Leeway.choices, null=True, help_text="Whether the client may take another level; empty: none"
    )

    class Meta:
        ordering = ["revision", "position"]
        constraints = [
            models.UniqueConstraint(fields=["revision", "key"], name="item_key_once"),
            models.UniqueConstraint(fields=["revision", "position"], name="item_position_once"),
            models.CheckConstraint(
                condition=Q(rounds_minimum__gte=1) & Q(rounds_minimum__lte=F("rounds_full")),
                name="item_rounds_in_order",
            ),
        ]


class Pause(models.Model):
    """Days that do not count: `first`, up to but not including `until` (empty: still paused)."""

    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="pauses")
    first = models.DateField()
    until = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["first", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("first")), name="pause_until_after_first"
            ),
            models.UniqueConstraint(fields=["program"], condition=Q(until__isnull=True), name="pause_open_once"),
        ]


class Screening(AppendOnly):
    """What a client answered before exercise is prescribed, and who asked. Never changed: asking again is a new row.

    The lists hold codes of vocab.Disease, vocab.Sign and vocab.ScreeningFlag; an empty one was asked and denied.
    """

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="screenings")
    day = models.DateField(help_text="The day it was asked, in the client's zone")
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    active = models.BooleanField(help_text="30 minutes or more on 3 days a week or more for the last 3 months")
    intensity = models.CharField(max_length=16, choices=Intensity.choices, help_text="The hardest that is planned")
    diseases = models.JSONField(default=list)
    signs = models.JSONField(default=list)
    red_flags = models.JSONField(default=list)
    cleared_on = models.DateField(null=True, help_text="A doctor who knew of the answers allowed exercise on this day")
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["client", "-day"], name="screening_newest")]   # the newest of a client
        constraints = [
            models.CheckConstraint(
                condition=Q(cleared_on__isnull=True) | Q(cleared_on__lte=F("day")), name="screening_cleared_before"
            ),
            models.CheckConstraint(condition=Q(intensity__in=Intensity.values), name="screening_intensity_known"),
        ]


class ScreeningOverride(AppendOnly):
    """Why a clinician went on although the screening was missing, too old or spoke against it."""

    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="screening_overrides")
    screening = models.ForeignKey(Screening, null=True, on_delete=models.PROTECT, related_name="overrides")
    code = models.CharField(max_length=16, help_text="What stood in the way: a code of rules.screening")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["program", "pk"]
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="screening_override_has_a_reason")]
