"""Rooms, hours, appointments, and the claims by which the database itself refuses an overlap."""

from __future__ import annotations

import uuid

from django.contrib.postgres.fields import RangeBoundary, RangeOperators
from django.db import models
from django.db.models import F, Q
from django.db.models.lookups import Exact

from clinic.booking.constraints import OffGrid, PostgresExclusion, TsTzRange
from clinic.booking.vocab import HOLDING, AppointmentStatus, CancelReason, ChangeKind, MoveState, Resource
from clinic.people.models import Client, Episode, Site, Staff, User

CELL_MINUTES = 5
MOST_PLACES = 40   # of a group


class Room(models.Model):
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="rooms")
    name = models.CharField(max_length=60)
    features = models.JSONField(default=list, help_text="Codes such as table, open_floor, step_free")

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="room_name_once_per_site")]

    def __str__(self) -> str:
        return self.name


class WorkingHours(models.Model):
    """A recurring span of a clinician's working time: an RFC 5545 rule in the site's zone."""

    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="hours")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    rule = models.CharField(max_length=200, help_text="RRULE value, e.g. FREQ=WEEKLY;BYDAY=MO,TU")
    first_day = models.DateField()
    starts = models.TimeField(help_text="Local time")
    ends = models.TimeField(help_text="Local time")

    class Meta:
        verbose_name_plural = "working hours"
        constraints = [models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="hours_end_after_start")]


class Absence(models.Model):
    """Time a clinician is not there."""

    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="absences")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    reason = models.CharField(max_length=80, blank=True)
    away = models.ForeignKey("Away", null=True, blank=True, on_delete=models.CASCADE, related_name="absences")

    class Meta:
        indexes = [models.Index(fields=["clinician", "starts"], name="absence_span")]   # building a day's grid
        constraints = [models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="absence_end_after_start")]


class VisitType(models.Model):
    code = models.SlugField(max_length=32, unique=True)
    name = models.CharField(max_length=80)
    names = models.JSONField(default=dict, blank=True, help_text="For clients, by language: primary BCP 47 subtag to name")
    minutes = models.PositiveSmallIntegerField()
    preparation_minutes = models.PositiveSmallIntegerField(default=0)
    cleanup_minutes = models.PositiveSmallIntegerField(default=0)
    room_features = models.JSONField(default=list)
    is_reassessment = models.BooleanField(default=False)
    clients_may_book = models.BooleanField(default=False)
    places = models.PositiveSmallIntegerField(default=1, help_text="More than one: a group, joined where one is planned")

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=Q(minutes__gt=0) & Q(minutes__lte=480), name="visit_type_length"),
            models.CheckConstraint(condition=Q(places__gte=1, places__lte=MOST_PLACES), name="visit_type_places"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_group(self) -> bool:
        """Whether several clients share the clinician and the room."""
        return self.places > 1

    def name_in(self, language: str) -> str:
        """What a client who speaks `language` (BCP 47) calls it; the practice's own name where it gave no other."""
        return str(self.names.get(language.split("-")[0].lower(), self.name))


_HOLDS = Q(status__in=[status.value for status in HOLDING])
_ALONE = Q(place__isnull=True)   # those of a group share what the group holds


def _no_overlap(name: str, resource: str, starts: str, ends: str, apart: Q | None = None) -> PostgresExclusion:
    return PostgresExclusion(
        name=name,
        expressions=[
            (resource, RangeOperators.EQUAL),
            (TsTzRange(starts, ends, RangeBoundary()), RangeOperators.OVERLAPS),
        ],
        condition=_HOLDS & apart if apart else _HOLDS,
    )


class Series(models.Model):
    """Visits booked together: the same client, kind and local time of day."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="+")
    visit_type = models.ForeignKey(VisitType, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "series"


class Appointment(models.Model):
    """A visit in the book. `busy_from`..`busy_until` adds preparation and clean-up, for clinician and room."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="appointments")
    episode = models.ForeignKey(Episode, null=True, blank=True, on_delete=models.PROTECT, related_name="appointments")
    clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="appointments")
    room = models.ForeignKey(Room, on_delete=models.PROTECT, related_name="appointments")
    visit_type = models.ForeignKey(VisitType, on_delete=models.PROTECT, related_name="+")
    series = models.ForeignKey(Series, null=True, blank=True, on_delete=models.PROTECT, related_name="visits")
    place = models.ForeignKey(
        "GroupPlace", null=True, blank=True, on_delete=models.PROTECT, related_name="visits", help_text="In a group"
    )
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    busy_from = models.DateTimeField()
    busy_until = models.DateTimeField()
    status = models.CharField(max_length=16, choices=AppointmentStatus.choices, default=AppointmentStatus.BOOKED)
    cancel_reason = models.CharField(max_length=12, choices=CancelReason.choices, blank=True)
    due_earliest = models.DateField(null=True, blank=True, help_text="The window this visit should fall into …")
    due_latest = models.DateField(null=True, blank=True, help_text="… when it answers a reassessment")
    note = models.CharField(max_length=200, blank=True, help_text="For the desk; nothing clinical")
    version = models.PositiveIntegerField(default=1, help_text="iCalendar SEQUENCE + 1")
    booked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    booked_at = models.DateTimeField()
    changed_at = models.DateTimeField(null=True, blank=True, help_text="iCalendar LAST-MODIFIED; empty: as it was booked")
    offset_minutes = models.SmallIntegerField(
        null=True, help_text="The site's clock at the start, from UTC, by the zone's rules of when the time was agreed"
    )
    external_ref = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["starts", "pk"]
        indexes = [
            models.Index(fields=["clinician", "starts"], name="appointment_clinician"),   # the day view's columns
            models.Index(fields=["client", "starts"], name="appointment_client"),         # next visit, the client's page
            models.Index(fields=["site", "starts"], name="appointment_site"),             # the day view
        ]
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="appointment_ends_after_start"),
            models.CheckConstraint(
                condition=Q(busy_from__lte=F("starts")) & Q(busy_until__gte=F("ends")), name="appointment_busy_covers"
            ),
            models.CheckConstraint(condition=Exact(OffGrid(F("starts")), 0), name="appointment_starts_on_grid"),
            models.CheckConstraint(condition=Q(status__in=AppointmentStatus.values), name="appointment_status_known"),
            models.UniqueConstraint(
                fields=["site", "external_ref"], condition=~Q(external_ref=""), name="appointment_external_ref_once"
            ),
            models.UniqueConstraint(fields=["place"], condition=_HOLDS, name="appointment_place_once"),
            _no_overlap("appointment_clinician_free", "clinician", "busy_from", "busy_until", _ALONE),
            _no_overlap("appointment_room_free", "room", "busy_from", "busy_until", _ALONE),
            _no_overlap("appointment_client_free", "client", "starts", "ends"),
        ]


class Claim(models.Model):
    """One resource, one 5-minute cell: the unique constraint is what refuses a second booking, on either database.

    `cell` is the number of 5-minute ticks since 1970-01-01T00:00Z. A group holds its clinician and room itself.
    """

    appointment = models.ForeignKey(Appointment, null=True, on_delete=models.CASCADE, related_name="claims")
    group = models.ForeignKey("GroupVisit", null=True, on_delete=models.CASCADE, related_name="claims")
    resource = models.CharField(max_length=12, choices=Resource.choices)
    resource_id = models.BigIntegerField()
    cell = models.BigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["resource", "resource_id", "cell"], name="claim_once"),
            models.CheckConstraint(
                condition=Q(appointment__isnull=False, group__isnull=True) | Q(appointment__isnull=True, group__isnull=False),
                name="claim_of_one",
            ),
        ]


class Change(models.Model):
    """What a visit was before somebody changed it, so that the change can be taken back while nothing else has happened."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    appointment = models.ForeignKey(Appointment, on_delete=models.CASCADE, related_name="changes")
    kind = models.CharField(max_length=12, choices=ChangeKind.choices)
    before = models.JSONField(help_text="Status, reason, people and times as they were; keys and instants only")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["by", "at"], name="change_recent")]   # what a person can still take back
        constraints = [
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True) | Q(undone_at__gte=F("at")), name="change_undone_after"
            ),
        ]


class Away(models.Model):
    """Days on which a clinician, or everybody at a site, is not there, and what was proposed for the visits displaced."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(
        Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="Empty: the whole site"
    )
    first_day = models.DateField()
    last_day = models.DateField()
    anyone = models.BooleanField(default=True, help_text="Other clinicians may take over")
    cost = models.PositiveIntegerField(help_text="Points of rules/places.py")
    bound = models.PositiveIntegerField(help_text="No other choice costs less than this")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-first_day", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="away_days_in_order")]


class ProposedMove(models.Model):
    """A new time for one displaced visit. It holds nothing: the visit stays where it is until somebody confirms."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    away = models.ForeignKey(Away, on_delete=models.CASCADE, related_name="moves")
    appointment = models.ForeignKey(Appointment, on_delete=models.PROTECT, related_name="moves")
    version = models.PositiveIntegerField(help_text="Of the visit that this was worked out for")
    was_starts = models.DateTimeField()
    was_clinician = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    room = models.ForeignKey(Room, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    starts = models.DateTimeField(null=True, blank=True)
    reasons = models.JSONField(default=list, help_text="Codes of rules/places.py, each with its number")
    why_not = models.CharField(max_length=24, blank=True, help_text="Why there is no place; a code of rules/replacing.py")
    state = models.CharField(max_length=12, choices=MoveState.choices, default=MoveState.PROPOSED)
    asked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["was_starts", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["away", "appointment"], name="move_once_per_visit"),
            models.CheckConstraint(condition=Q(state__in=MoveState.values), name="move_state_known"),
            models.CheckConstraint(
                condition=Q(starts__isnull=True, clinician__isnull=True) | Q(starts__isnull=False, clinician__isnull=False),
                name="move_has_a_place_or_none",
            ),
        ]
