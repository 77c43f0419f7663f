"""What the client answered, and what follows from it."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q

from clinic.people.models import AppendOnly, Client, User
from programs.following.run_models import ItemRun as ItemRun
from programs.following.run_models import PhaseRun as PhaseRun
from programs.following.run_models import RibbonRow as RibbonRow
from programs.following.vocab import (
    Band,
    DayState,
    LogSource,
    Rating,
    RedFlag,
    SkipReason,
    SuggestionKind,
    SuggestionState,
)
from programs.prescribing.models import Program, Revision


def _zero_to_ten(*names: str) -> Q:
    condition = Q()
    for name in names:
        condition &= Q(**{f"{name}__isnull": True}) | (Q(**{f"{name}__gte": 0}) & Q(**{f"{name}__lte": 10}))
    return condition


class SessionLog(AppendOnly):
    """One session as reported. `log_id` is made by the phone; an edit is a row with the same log_id and a higher `edit`."""

    log_id = models.UUIDField()
    edit = models.PositiveSmallIntegerField(default=0)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="logs")
    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="logs", help_text="The one that was shown")
    older_plan = models.BooleanField(default=False, help_text="A newer revision was already effective that day")
    day = models.DateField(help_text="In the client's zone, fixed when logged")
    started = models.DateTimeField(null=True)
    received = models.DateTimeField()
    source = models.CharField(max_length=12, choices=LogSource.choices)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    pain_before = models.PositiveSmallIntegerField(null=True)
    pain_during = models.PositiveSmallIntegerField(null=True)
    effort = models.PositiveSmallIntegerField(null=True)
    rating = models.CharField(max_length=12, choices=Rating.choices, blank=True)
    words = models.TextField(blank=True, max_length=2000)

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["program", "day"], name="log_program_day")]   # the fold
        constraints = [
            models.UniqueConstraint(fields=["log_id", "edit"], name="log_once"),
            models.CheckConstraint(condition=_zero_to_ten("pain_before", "pain_during", "effort"), name="log_scales_0_10"),
        ]


class ItemLog(AppendOnly):
    """What was done of one item: seconds a side, or why it was skipped."""

    log = models.ForeignKey(SessionLog, on_delete=models.PROTECT, related_name="items")
    item_key = models.UUIDField()
    done_left = models.PositiveIntegerField(default=0, help_text="Seconds; sides together count here for both")
    done_right = models.PositiveIntegerField(default=0, help_text="Seconds")
    reps_last_set = models.PositiveSmallIntegerField(null=True)
    rating = models.CharField(max_length=12, choices=Rating.choices, blank=True)
    skipped = models.CharField(max_length=12, choices=SkipReason.choices, blank=True)
    level = models.PositiveSmallIntegerField(null=True, help_text="The level that was done; empty: the prescribed one")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["log", "item_key"], name="item_logged_once"),
            models.CheckConstraint(
                condition=Q(done_left__lte=36000) & Q(done_right__lte=36000), name="item_log_under_ten_hours"
            ),
        ]


class MorningAnswer(AppendOnly):
    """Pain the morning after; the newest row for a day counts. `day` is the day of the session."""

    answer_id = models.UUIDField(unique=True)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="mornings")
    day = models.DateField()
    pain = models.PositiveSmallIntegerField()
    received = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pain__lte=10), name="morning_pain_0_10")]


class DayNudge(models.Model):
    """A client wishes to be reminded on days that ask for a session. Off: no row."""

    client = models.OneToOneField(Client, on_delete=models.PROTECT, related_name="nudge")
    at = models.TimeField(help_text="By the clock of the client's zone; a full or a half hour")
    next_at = models.DateTimeField(help_text="When it is to be looked at next")

    class Meta:
        indexes = [models.Index(fields=["next_at", "id"], name="nudge_next")]   # the sweep


class Note(AppendOnly):
    """A short note between client and clinician about a program or one of its sessions; `note_id` is made by the sender.

    What a client wrote with a session's log is a note as well: it holds no text of its own, the log does.
    """

    note_id = models.UUIDField(unique=True)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="notes")
    log = models.ForeignKey(
        SessionLog, null=True, on_delete=models.PROTECT, related_name="notes", help_text="The session it is about"
    )
    from_client = models.BooleanField()
    text = models.TextField(blank=True, max_length=2000, help_text="Empty: the words of the log itself")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["program", "at"], name="note_program_at")]   # a conversation, newest first
        constraints = [
            models.CheckConstraint(
                condition=~Q(text="") | Q(log__isnull=False, from_client=True), name="note_says_something"
            ),
        ]

    @property
    def words(self) -> str:
        """What was written."""
        return self.text or (self.log.words if self.log else "")


class NoteRead(AppendOnly):
    """When a note was read by the other side: once, by whoever said so first."""

    note = models.OneToOneField(Note, on_delete=models.PROTECT, related_name="read")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")


class DayRecord(models.Model):
    """Read model: one program, one day. Always rebuildable from revisions, pauses and logs."""

    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="days")
    day = models.DateField()
    state = models.CharField(max_length=12, choices=DayState.choices)
    phase_number = models.PositiveSmallIntegerField(null=True)
    phase_kind = models.CharField(max_length=12, blank=True)
    prescribed_sessions = models.PositiveSmallIntegerField(default=0, help_text="The least that was asked")
    prescribed_minimum = models.PositiveIntegerField(default=0, help_text="Seconds")
    prescribed_full = models.PositiveIntegerField(default=0, help_text="Seconds")
    logged = models.BooleanField(default=False)
    sessions_done = models.PositiveSmallIntegerField(default=0)
    done_seconds = models.PositiveIntegerField(default=0)
    credit = models.FloatField(default=0.0)
    pain = models.PositiveSmallIntegerField(null=True, help_text="Worst during")
    pain_next_morning = models.PositiveSmallIntegerField(null=True)
    effort = models.PositiveSmallIntegerField(null=True)

    class Meta:
        ordering = ["program", "day"]
        constraints = [
            models.UniqueConstraint(fields=["program", "day"], name="day_once"),
            models.CheckConstraint(condition=Q(credit__gte=0) & Q(credit__lte=1), name="day_credit_0_1"),
        ]


class ProgramState(models.Model):
    """Read model: one program, everything the caseload shows. Rebuildable like DayRecord."""

    program = models.OneToOneField(Program, on_delete=models.CASCADE, related_name="state")
    as_of = models.DateField()
    rules = models.PositiveIntegerField(default=0, help_text="Version of the rule set it was worked out with")
    phase_number = models.PositiveSmallIntegerField(null=True)
    phase_kind = models.CharField(max_length=12, blank=True)
    band = models.CharField(max_length=12, choices=Band.choices)
    adherence_7 = models.FloatField(null=True)
    adherence_phase = models.FloatField(null=True)
    adherence_all = models.FloatField(null=True)
    sessions_done = models.PositiveIntegerField(default=0)
    sessions_prescribed = models.PositiveIntegerField(default=0)
    interval_low = models.FloatField(null=True, help_text="Wilson 95 %, whole program")
    interval_high = models.FloatField(null=True)
    silent_days = models.PositiveSmallIntegerField(default=0)
    last_logged = models.DateField(null=True)
    overdose = models.FloatField(null=True, help_text="Done over full, 7 days")
    pain_last = models.PositiveSmallIntegerField(null=True)
    pain_slope = models.FloatField(null=True, help_text="Theil-Sen, points a week")
    attention = models.PositiveSmallIntegerField(default=0)
    reasons = models.JSONField(default=list, help_text="Codes with numbers, the largest first")

    class Meta:
        indexes = [models.Index(fields=["-attention"], name="state_attention")]   # the caseload's order
        constraints = [models.CheckConstraint(condition=Q(band__in=Band.values), name="state_band_known")]


class RuleSet(AppendOnly):
    """The thresholds suggestions are made with, versioned; the newest counts."""

    version = models.PositiveIntegerField(unique=True)
    thresholds = models.JSONField()
    author = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=200)
    at = models.DateTimeField()


class Suggestion(models.Model):
    """A proposal with its evidence; nothing changes a program by itself."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    program = models.ForeignKey(Program, on_delete=models.PROTECT, related_name="suggestions")
    item_key = models.UUIDField(null=True)
    kind = models.CharField(max_length=16, choices=SuggestionKind.choices)
    state = models.CharField(max_length=12, choices=SuggestionState.choices, default=SuggestionState.OPEN)
    evidence = models.JSONField(help_text="rule, observed, threshold, source, logs")
    rule_set = models.ForeignKey(RuleSet, on_delete=models.PROTECT, related_name="+")
    revision = models.ForeignKey(Revision, on_delete=models.PROTECT, related_name="+", help_text="Made against")
    made = models.DateTimeField()
    decided_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    decided_at = models.DateTimeField(null=True)
    decision_reason = models.CharField(max_length=300, blank=True)
    resulting_revision = models.ForeignKey(Revision, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-made", "-pk"]
        indexes = [models.Index(fields=["state", "program"], name="suggestion_open")]   # caseload and list
        constraints = [
            models.UniqueConstraint(
                fields=["program", "kind", "item_key"], condition=Q(state="open") & Q(item_key__isnull=False),
                name="suggestion_open_once_per_item",
            ),
            models.UniqueConstraint(
                fields=["program", "kind"], condition=Q(state="open") & Q(item_key__isnull=True),
                name="suggestion_open_once_per_program",
            ),
        ]


class Alert(models.Model):
    """A red-flag answer. Open until a clinician closes it with a note."""

    public_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    answer_id = models.UUIDField(unique=True, help_text="Made by the phone")
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="alerts")
    program = models.ForeignKey(Program, null=True, on_delete=models.PROTECT, related_name="alerts")
    flag = models.CharField(max_length=16, choices=RedFlag.choices)
    at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True, max_length=2000)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | ~Q(note=""), name="alert_closed_with_a_note"
            ),
        ]
