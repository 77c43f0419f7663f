"""Reviews that are overdue, by age and clinician, and those that come due in the next weeks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from django.db.models import Case, Count, IntegerField, Min, QuerySet, Value, When

from clinic.people.models import Staff, User
from clinic.visits.models import Reassessment
from clinic.visits.queries import overdue_list
from dashboards.read_models.rows import AGES, Overdue, OverdueRow, WeekDue

WEEKS = 6


def overdue(user: User, today: date, clinician: Staff | None = None) -> QuerySet[Reassessment]:
    """The overdue list, longest overdue first."""
    rows = overdue_list(user, today, "overdue")
    return rows.filter(episode__lead=clinician) if clinician else rows


def counted(user: User, today: date, clinician: Staff | None = None) -> Overdue:
    """How many by clinician, reason and age; one query."""
    steps = [
        When(due__gte=today - timedelta(days=last), then=Value(place))
        for place, (_, last) in enumerate(AGES) if last is not None
    ]
    rows = overdue(user, today, clinician).order_by().values_list("episode__lead__name", "reason").annotate(
        age=Case(*steps, default=Value(len(AGES) - 1), output_field=IntegerField())
    ).values_list("episode__lead__name", "reason", "age").annotate(Count("pk", distinct=True), Min("due"))
    found, longest = Overdue(Counter(), Counter(), 0), 0
    for name, reason, age, count, due in rows:
        found.by_clinician[name, age] += count
        found.by_reason[reason, age] += count
        longest = max(longest, (today - due).days)
    return replace(found, longest=longest)


def rows_of(found: Iterable[Reassessment], today: date) -> list[OverdueRow]:
    """The reviews as rows."""
    return [
        OverdueRow(
            row.public_id, row.episode.client.name, row.episode.client.public_id, row.episode.lead.name, row.reason,
            row.due, (today - row.due).days,
        )
        for row in found
    ]


def coming(user: User, today: date, clinician: Staff | None = None, count: int = WEEKS) -> list[WeekDue]:
    """What comes due from today to the end of the `count`-th week, week by week; one query."""
    monday = today - timedelta(days=today.weekday())
    mondays = [monday + timedelta(weeks=week) for week in range(count)]
    rows = overdue_list(user, today, None).filter(due__gte=today, due__lt=mondays[-1] + timedelta(weeks=1))
    if clinician:
        rows = rows.filter(episode__lead=clinician)
    found = Counter(
        (due - timedelta(days=due.weekday()), appointment is not None)
        for due, appointment in rows.values_list("due", "appointment_id")
    )
    return [WeekDue(day, found[day, True], found[day, False]) for day in mondays]
