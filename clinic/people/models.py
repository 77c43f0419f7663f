"""People, where they are looked after, and the append-only record of what was done."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.db.models.functions import Length
from django.utils import timezone

from clinic.people.vocab import BodySide, Channel, ConditionCode, CorrectionOutcome, EpisodeStatus, Region, Role

models.CharField.register_lookup(Length)


class AppendOnlyQuerySet(models.QuerySet[Any]):
    """Rows that are written once. A BEFORE UPDATE trigger in the migrations is the second wall."""

    def update(self, **kwargs: Any) -> int:
        raise TypeError(f"{self.model.__name__} rows are append-only")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise TypeError(f"{self.model.__name__} rows are append-only")


class AppendOnly(models.Model):
    """Base of records that are never changed: a correction is a new row."""

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError(f"{type(self).__name__} rows are append-only")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError(f"{type(self).__name__} rows are append-only")


class Site(models.Model):
    """A place of the practice. Visits are in its zone."""

    name = models.CharField(max_length=80, unique=True)
    zone = models.CharField(max_length=64, help_text="IANA time zone")
    phone = models.CharField(max_length=16, help_text="E.164")
    emergency_number = models.CharField(max_length=16, help_text="What a client is told to call here")
    region_code = models.CharField(max_length=2, help_text="ISO 3166 region that national phone numbers belong to")
    notice_hours = models.PositiveSmallIntegerField(
        default=0, db_default=0, help_text="Until how long before a visit clients move or cancel it themselves"
    )

    def __str__(self) -> str:
        return self.name


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, role: str, password: str | None = None) -> User:
        """A user with a lower-cased address; without a password they sign in by mailed code or link only."""
        user = self.model(email=email.strip().lower(), role=role)
        if password:
            user.set_password(password)
        else:
            user.set_unusable_password()
        user.save(using=self._db)
        return user

    def system(self) -> User:
        """The named actor of scheduled work: jobs never act as nobody."""
        user = self.filter(role=Role.SYSTEM).first()
        return user or self.create_user("system@intervale.invalid", Role.SYSTEM)


class User(AbstractBaseUser):
    """Someone who can sign in, in exactly one role."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    email = models.EmailField(unique=True)
    role = models.CharField(max_length=12, choices=Role.choices)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(default=timezone.now)
    tour_stop = models.PositiveSmallIntegerField(default=1, help_text="Where in the first round; 0 when it is left")

    objects = UserManager()
    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    is_staff = False
    is_superuser = False

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(role__in=Role.values), name="user_role_known"),
            models.UniqueConstraint(fields=["role"], condition=Q(role=Role.SYSTEM), name="one_system_actor"),
        ]

    def __str__(self) -> str:
        return str(self.public_id)


class Staff(models.Model):
    """A member of the practice."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    user = models.OneToOneField(User, on_delete=models.PROTECT, related_name="staff")
    name = models.CharField(max_length=120)
    credentials = models.CharField(max_length=40, blank=True, help_text="Letters after the name")
    sites = models.ManyToManyField(Site, related_name="staff")

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Client(models.Model):
    """A person who is looked after."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    user = models.OneToOneField(User, null=True, blank=True, on_delete=models.PROTECT, related_name="client")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="clients")
    given_name = models.CharField(max_length=120)
    family_name = models.CharField(max_length=120, blank=True)
    birth_date = models.DateField(null=True, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=16, blank=True, help_text="E.164")
    language = models.CharField(max_length=8, default="en", help_text="BCP 47")
    zone = models.CharField(max_length=64, help_text="IANA time zone of the program's days")
    quiet_from = models.TimeField(default="21:00", help_text="No messages from this local time …")
    quiet_until = models.TimeField(default="08:00", help_text="… to this one")
    external_ref = models.CharField(max_length=64, blank=True, help_text="The number in the system it was imported from")
    registered = models.DateTimeField(default=timezone.now)
    archived = models.DateTimeField(null=True, blank=True)
    keep = models.CharField(
        max_length=300, blank=True, default="", db_default="", help_text="Why the record stays whatever the settings say"
    )

    class Meta:
        ordering = ["family_name", "given_name", "pk"]
        indexes = [
            models.Index(fields=["family_name", "given_name"], name="client_name"),   # the client list and search
            models.Index(fields=["birth_date"], name="client_birth"),                  # search and duplicate check
            models.Index(fields=["phone"], name="client_phone"),                       # search and duplicate check
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(given_name=""), name="client_has_a_name"),
            models.UniqueConstraint(
                fields=["site", "external_ref"], condition=~Q(external_ref=""), name="client_external_ref_once"
            ),
        ]

    def __str__(self) -> str:
        return str(self.public_id)

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}".strip()


class Consent(AppendOnly):
    """What a client agreed to or withdrew, per channel; the newest row counts."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="consents")
    channel = models.CharField(max_length=8, choices=Channel.choices)
    granted = models.BooleanField()
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")


class Condition(models.Model):
    """A screening answer with the days it holds."""

    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="conditions")
    code = models.CharField(max_length=24, choices=ConditionCode.choices)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=models.F("since")), name="condition_until_after_since"
            ),
            models.UniqueConstraint(
                fields=["client", "code"], condition=Q(until__isnull=True), name="condition_open_once"
            ),
        ]


class Correction(models.Model):
    """A client says what is wrong in what is held about them; the practice answers. One is open at a time."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="corrections")
    words = models.CharField(max_length=500, help_text="What is wrong and what is right, as the client wrote it")
    asked = models.DateTimeField()
    outcome = models.CharField(max_length=8, choices=CorrectionOutcome.choices, default=CorrectionOutcome.OPEN)
    reason = models.CharField(max_length=500, blank=True, help_text="What the practice says to it; the client reads it")
    answered = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-asked", "-pk"]
        indexes = [models.Index(fields=["asked"], condition=Q(outcome="open"), name="correction_open")]   # the staff's list
        constraints = [
            models.UniqueConstraint(fields=["client"], condition=Q(outcome="open"), name="correction_open_once"),
            models.CheckConstraint(condition=Q(outcome__in=CorrectionOutcome.values), name="correction_outcome_known"),
            models.CheckConstraint(
                condition=Q(outcome="open", answered__isnull=True, answered_by__isnull=True)
                | ~Q(outcome="open") & Q(answered__gte=models.F("asked"), answered_by__isnull=False),
                name="correction_answered_once",
            ),
        ]


class Episode(models.Model):
    """One complaint being worked on, from first visit to discharge."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="episodes")
    lead = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="episodes")
    region = models.CharField(max_length=12, choices=Region.choices)
    side = models.CharField(max_length=8, choices=BodySide.choices, default=BodySide.NONE)
    complaint = models.CharField(max_length=200)
    goals = models.TextField(blank=True, max_length=2000)
    status = models.CharField(max_length=16, choices=EpisodeStatus.choices, default=EpisodeStatus.ACTIVE)
    opened = models.DateField()
    closed = models.DateField(null=True, blank=True)
    visits_allowed = models.PositiveSmallIntegerField(null=True, blank=True, help_text="The referral's limit")
    referral_expires = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-opened", "-pk"]
        indexes = [models.Index(fields=["lead", "status"], name="episode_caseload")]   # a clinician's caseload
        constraints = [
            models.CheckConstraint(
                condition=Q(closed__isnull=True) | Q(closed__gte=models.F("opened")), name="episode_closed_after_opened"
            ),
            models.CheckConstraint(condition=Q(status__in=EpisodeStatus.values), name="episode_status_known"),
        ]


class AuditEvent(AppendOnly):
    """Who did what, when, to which record. Holds ids and field names, never contents of notes."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    verb = models.CharField(max_length=40)
    record = models.CharField(max_length=80, help_text="kind:public id")
    client = models.ForeignKey(Client, null=True, on_delete=models.PROTECT, related_name="audit")
    detail = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["client", "-at"], name="audit_client")]   # "who looked at this"


class IdempotencyKey(models.Model):
    """The answer already given to a write that may be sent twice."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    request_hash = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.JSONField(null=True)
    created = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "key"], name="idempotency_key_once")]


class SignInLink(models.Model):
    """A mailed link: single use, ten minutes, only its hash is kept, consumed by POST only."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    token_hash = models.CharField(max_length=64, unique=True)
    created = models.DateTimeField()
    expires = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
