"""Read models of lists and of charts of a whole practice; part of models.py, apart from it for its length."""

from __future__ import annotations

from django.db import models

from programs.prescribing.models import Program


class PhaseRun(models.Model):
    """Read model: one unbroken run of days in a phase (rules.runs). Rebuildable like DayRecord."""

    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="phase_runs")
    number = models.PositiveSmallIntegerField(help_text="0 is the program's first")
    kind = models.CharField(max_length=12)
    first = models.DateField()
    last = models.DateField()
    days = models.PositiveSmallIntegerField(help_text="Days that count")
    silent = models.PositiveSmallIntegerField(help_text="Of them without a log")
    asked = models.PositiveSmallIntegerField(help_text="Sessions")
    done = models.PositiveSmallIntegerField(help_text="Sessions")
    credit = models.FloatField(help_text="Credited sessions")
    seconds = models.PositiveIntegerField(help_text="Asked for at least")
    kept = models.PositiveSmallIntegerField(default=0, help_text="Days from its first on until a long silence, or until now")
    lapsed = models.BooleanField(default=False, help_text="It was a silence")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["program", "number"], name="phase_run_once")]


class ItemRun(models.Model):
    """Read model: one exercise at one level (rules.runs), with what came of it. Rebuildable like DayRecord."""

    program = models.ForeignKey(Program, on_delete=models.CASCADE, related_name="item_runs")
    item_key = models.UUIDField()
    number = models.PositiveSmallIntegerField(help_text="Of this item's runs, 0 the first")
    exercise = models.SlugField(max_length=64, db_index=False)
    level = models.PositiveSmallIntegerField()
    first = models.DateField()
    until = models.DateField(null=True, help_text="The day another level came in; empty: as far as is planned")
    sessions = models.PositiveSmallIntegerField(help_text="Logged ones that asked for it")
    done = models.PositiveSmallIntegerField()
    credit = models.FloatField(help_text="Sum of its credits")
    left = models.PositiveIntegerField(help_text="Seconds, where each side is asked for")
    right = models.PositiveIntegerField(help_text="Seconds")
    no_time = models.PositiveSmallIntegerField(help_text="Left out for this reason, and so below")
    pain = models.PositiveSmallIntegerField()
    forgot = models.PositiveSmallIntegerField()
    unwell = models.PositiveSmallIntegerField()
    no_equipment = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["program", "item_key", "number"], name="item_run_once")]


class RibbonRow(models.Model):
    """Read model: the ribbon of a program around `as_of`, ready for a list. Rebuildable like DayRecord."""
    program = models.OneToOneField(Program, on_delete=models.CASCADE, related_name="ribbon_row")
    as_of = models.DateField()
    days = models.TextField(help_text="JSON: day, state, minimum, full and done seconds, whether it is today")
