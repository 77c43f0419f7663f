"""Exercises, their ordered levels, and what speaks against them."""

from __future__ import annotations

from django.db import models

from clinic.people.vocab import ConditionCode, Region
from programs.library.rules.translation import ExerciseWords, LevelWords, words_in
from programs.library.vocab import DoseSide, Kind, Severity

SAID = "What it says in other languages: primary BCP 47 subtag to the parts of rules.translation"


class Exercise(models.Model):
    slug = models.SlugField(max_length=48, unique=True)
    name = models.CharField(max_length=80)
    region = models.CharField(max_length=12, choices=Region.choices)
    kind = models.CharField(max_length=16, choices=Kind.choices)
    side = models.CharField(max_length=12, choices=DoseSide.choices, help_text="How it is usually given")
    equipment = models.JSONField(default=list)
    setup = models.TextField(help_text="How to get into position")
    setup_seconds = models.PositiveSmallIntegerField(default=20)
    feel = models.CharField(max_length=200, help_text="What it should feel like")
    not_feel = models.CharField(max_length=200, help_text="What it should not feel like")
    source = models.CharField(max_length=300, blank=True, help_text="Where the dose is published")
    said = models.JSONField(default=dict, help_text=SAID)

    class Meta:
        ordering = ["region", "name"]

    def __str__(self) -> str:
        return self.name

    def name_in(self, language: str) -> str:
        """Its name for a client who speaks `language` (BCP 47); English where there is no translation."""
        return str(words_in(self.said, language).get("name", self.name))

    def in_language(self, language: str) -> ExerciseWords:
        """What a client reads who speaks `language` (BCP 47); English where there is no translation."""
        own = {"name": self.name, "setup": self.setup, "feel": self.feel, "not_feel": self.not_feel}
        return ExerciseWords(**{**own, **words_in(self.said, language)})


class Level(models.Model):
    """One difficulty of an exercise. `dose` is the JSON form of rules.dose."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="levels")
    number = models.PositiveSmallIntegerField(help_text="1 is the easiest")
    name = models.CharField(max_length=80)
    harder_because = models.CharField(max_length=160, blank=True)
    cues = models.JSONField(default=list)
    dose = models.JSONField()
    drawing = models.JSONField(default=dict, help_text="Two poses and props for rules.figure")
    said = models.JSONField(default=dict, help_text=SAID)

    class Meta:
        ordering = ["exercise", "number"]
        constraints = [models.UniqueConstraint(fields=["exercise", "number"], name="level_number_once")]

    def in_language(self, language: str) -> LevelWords:
        """What a client reads who speaks `language` (BCP 47); English where there is no translation."""
        said = words_in(self.said, language)
        return LevelWords(
            said.get("name", self.name), said.get("harder_because", self.harder_because), tuple(said.get("cues", self.cues))
        )


class Precaution(models.Model):
    """A condition that speaks against an exercise, or asks for care."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="precautions")
    condition = models.CharField(max_length=24, choices=ConditionCode.choices)
    severity = models.CharField(max_length=8, choices=Severity.choices)
    reason = models.CharField(max_length=200)
    said = models.JSONField(default=dict, help_text=SAID)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["exercise", "condition"], name="precaution_once")]
