"""Reviews that are overdue, by age and clinician, and those that come due in the next weeks."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

from clinic.people.models import Staff, User
from clinic.visits.queries import overdue_list
from dashboards.read_models.rows import OverdueRow, WeekDue

WEEKS = 6


def overdue_rows(user: User, today: date, clinician: Staff | None = None) -> list[OverdueRow]:
    """The overdue list, longest overdue first; one query."""
    rows = overdue_list(user, today, "overdue")
    if clinician:
        rows = rows.filter(episode__lead=clinician)
    return [
        OverdueRow(
            row.public_id, row.episode.client.name, row.episode.client.public_id, row.episode.lead.name, row.reason,
            row.due, (today - row.due).days,
        )
        for row in rows
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
