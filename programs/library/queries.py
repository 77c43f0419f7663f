"""Reads of the exercise library. It holds nobody's data: every member of staff and the system may read it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import NamedTuple

from django.db.models import Prefetch, Q, QuerySet

from clinic.people.refusal import NotThere
from programs.library.models import Exercise, Level, Precaution
from programs.library.rules.translation import words_in
from programs.library.vocab import Equipment, Severity


class Warning(NamedTuple):
    """A condition of a client that speaks against an exercise."""

    slug: str
    condition: str
    severity: str
    reason: str


def exercises(text: str = "", region: str = "", kind: str = "", equipment: str = "") -> QuerySet[Exercise]:
    """Exercises that hold every word of `text` in their name, address or set-up, in this region, of this kind, needing this.

    An empty argument does not filter; an unknown one finds nothing. Levels come along.
    """
    rows = Exercise.objects.order_by("region", "name", "pk").prefetch_related(
        Prefetch("levels", Level.objects.order_by("number"))
    )
    for word in text.split():
        rows = rows.filter(Q(name__icontains=word) | Q(slug__icontains=word) | Q(setup__icontains=word))
    if region:
        rows = rows.filter(region=region)
    if kind:
        rows = rows.filter(kind=kind)
    if equipment and equipment not in Equipment.values:
        return rows.none()
    if equipment:
        # SQLite cannot look into a JSON list, and a library is a few hundred rows
        rows = rows.filter(pk__in=[
            pk for pk, needs in Exercise.objects.values_list("pk", "equipment") if equipment in needs
        ])
    return rows


def exercise(slug: str) -> Exercise:
    """One exercise with its levels and precautions, the most severe first; NotThere when there is none."""
    row = (
        Exercise.objects.filter(slug=slug)
        .prefetch_related(
            Prefetch("levels", Level.objects.order_by("number")),
            Prefetch("precautions", Precaution.objects.order_by("-severity", "condition")),
        )
        .first()
    )
    if row is None:
        raise NotThere
    return row


def levels_of(slugs: Iterable[str]) -> dict[str, list[Level]]:
    """The levels of each exercise, easiest first; an unknown slug is absent."""
    found: dict[str, list[Level]] = defaultdict(list)
    rows = Level.objects.filter(exercise__slug__in=set(slugs)).select_related("exercise").order_by("exercise", "number")
    for level in rows:
        found[level.exercise.slug].append(level)
    return dict(found)


def warnings(slugs: Iterable[str], conditions: Collection[str], language: str = "en") -> list[Warning]:
    """What speaks against these exercises for a person with these conditions; what must not be done comes first.

    The reasons are said in `language` (BCP 47), in English where there is no translation.
    """
    rows = Precaution.objects.filter(exercise__slug__in=set(slugs), condition__in=conditions).values_list(
        "exercise__slug", "condition", "severity", "reason", "said"
    )
    found = [
        Warning(slug, condition, severity, words_in(said, language).get("reason", reason))
        for slug, condition, severity, reason, said in rows
    ]
    return sorted(found, key=lambda row: (row.severity != Severity.DO_NOT, row.slug, row.condition))


def drawings() -> QuerySet[Level]:
    """Every level with its exercise, for the contact sheet."""
    return Level.objects.select_related("exercise").order_by("exercise__region", "exercise__name", "number")
