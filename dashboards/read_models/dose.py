"""What was asked and what came of it, read from following's rows of phases and levels."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, F, Q, Sum

from clinic.people.models import Staff, User
from dashboards.read_models.dose_rows import SKIPS, UNEVEN, Course, ExerciseRow
from dashboards.read_models.people import caseload_programs
from programs.following.models import ItemRun, PhaseRun
from programs.library.models import Exercise


def courses(user: User, clinician: Staff | None = None) -> list[Course]:
    """Each open program by kind of phase; one query."""
    rows = (
        PhaseRun.objects.filter(program__in=caseload_programs(user, clinician))
        .order_by().values_list("program", "kind")
        .annotate(Sum("days"), Sum("seconds"), Sum("asked"), Sum("credit"))
    )
    return [Course(*values) for values in rows]


def exercises(user: User, clinician: Staff | None = None) -> list[ExerciseRow]:
    """Each exercise over all open programs, by name; two queries."""
    names = dict(Exercise.objects.order_by().values_list("slug", "name"))
    sided = Q(left__gt=0) | Q(right__gt=0)
    rows: Any = (
        ItemRun.objects.filter(program__in=caseload_programs(user, clinician))
        .order_by().values("exercise")
        .annotate(
            all_sessions=Sum("sessions"), all_done=Sum("done"), **{f"all_{code}": Sum(code) for code in SKIPS},
            sided=Count("pk", filter=sided), less_left=Count("pk", filter=Q(left__lt=F("right") * UNEVEN)),
            less_right=Count("pk", filter=Q(right__lt=F("left") * UNEVEN)),
        )
    )
    found = [
        ExerciseRow(
            row["exercise"], names.get(row["exercise"], row["exercise"]), row["all_sessions"], row["all_done"],
            tuple(row[f"all_{code}"] for code in SKIPS), row["sided"], row["less_left"], row["less_right"],
        )
        for row in rows
    ]
    return sorted(found, key=lambda row: row.name)
