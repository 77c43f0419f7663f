"""Work a program's days and state out anew."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from programs.following.actions import saving
from programs.following.queries import course_of, today_of
from programs.following.rules.fold import Folded, fold
from programs.prescribing.models import Program


@transaction.atomic
def refold(program: Program, now: datetime) -> Folded:
    """Fold plans, pauses, logs and mornings into day records and the state of today; rows that stay equal are not touched."""
    _, rules = saving.rules_now(now)
    course = course_of(program)
    folded = fold(course, today_of(program, now), rules.bands)
    saving.save(program, course, folded, rules)
    return folded
