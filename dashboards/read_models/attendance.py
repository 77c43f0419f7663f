"""Who came and who did not: by week, by how long before the visit was booked, by what became of its reminder."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Case, Count, F, Q, QuerySet, Value, When
from django.db.models.functions import TruncWeek

from clinic.booking.models import Appointment
from clinic.booking.queries import appointments_for
from clinic.booking.rules.control import p_chart
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import Staff, User
from clinic.people.rules import zones
from clinic.reminders.models import Message
from clinic.reminders.vocab import MessageState
from dashboards.read_models.practice_rows import (
    LEADS,
    Attendance,
    AttendancePart,
    GroupAttendance,
    WeekAttendance,
    group_of,
)

WEEKS = 26
REMINDED = timedelta(days=28)   # of visits whose reminders are looked up one by one
KEPT = (AppointmentStatus.ARRIVED, AppointmentStatus.CHECKED_IN, AppointmentStatus.FULFILLED)
OPEN = (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)
NAMES: dict[str, str] = {
    **dict.fromkeys(KEPT, "kept"), **dict.fromkeys(OPEN, "unclosed"), AppointmentStatus.NOSHOW: "missed",
    AppointmentStatus.CANCELLED: "cancelled",
}
FATES = ("sent", "not_sent", "failed", "none")


def _past(user: User, clinician: Staff | None, first: datetime, now: datetime) -> QuerySet[Appointment]:
    """Visits the user may see that began from `first` on and are over."""
    rows = appointments_for(user).filter(starts__gte=first, ends__lte=now, status__in=list(NAMES)).order_by()
    return rows.filter(clinician=clinician) if clinician else rows


def attendance(
    user: User, now: datetime, zone: str, clinician: Staff | None = None, count: int = WEEKS
) -> AttendancePart:
    """The last `count` weeks, this one included, in the calendar of `zone`; one query, added up by the database."""
    today = zones.day_in(now, zone)
    monday = today - timedelta(days=today.weekday())
    mondays = [monday - timedelta(weeks=back) for back in reversed(range(count))]
    begin, _ = zones.day_bounds(mondays[0], zone)
    lead = Case(*(
        When(Q(booked_at__gt=F("starts") - timedelta(days=last + 1)), then=Value(place))
        for place, (_, last) in enumerate(LEADS) if last is not None
    ), default=Value(len(LEADS) - 1))
    rows = (
        _past(user, clinician, begin, now).annotate(week=TruncWeek("starts", tzinfo=zones.zone(zone)), lead=lead)
        .values_list("week", "lead", "status").annotate(Count("pk"))
    )
    weeks: dict[date, Counter[str]] = {day: Counter() for day in mondays}
    leads: list[Counter[str]] = [Counter() for _ in LEADS]
    for week, place, status, number in rows:
        for counter in (weeks[week.date()], leads[place]):
            counter[NAMES[status]] += number
    seen = [Attendance(**weeks[day]) for day in mondays]
    chart = p_chart([row.missed for row in seen], [row.expected for row in seen])
    return AttendancePart(
        chart.centre,
        tuple(
            WeekAttendance(day, row, sample.share, sample.low, sample.high, sample.signal)
            for day, row, sample in zip(mondays, seen, chart.samples, strict=True)
        ),
        tuple(group_of(str(place), Attendance(**counter)) for place, counter in enumerate(leads)),
    )


def reminded(user: User, now: datetime, clinician: Staff | None = None) -> list[GroupAttendance]:
    """Visits of the last 28 days by what became of their reminder, in the order of FATES; two queries."""
    visits = {
        f"appointment:{public_id}": NAMES[status]
        for public_id, status in _past(user, clinician, now - REMINDED, now).values_list("public_id", "status")
    }
    states = Message.objects.filter(kind="visit_reminder", created__gte=now - REMINDED - timedelta(days=2)).order_by()
    fates = _fates(states.values_list("about", "state"))
    found: dict[str, Counter[str]] = {fate: Counter() for fate in FATES}
    for about, outcome in visits.items():
        found[fates.get(about, "none")][outcome] += 1
    return [group_of(fate, Attendance(**counter)) for fate, counter in found.items()]


def _fates(rows: Iterable[tuple[str, Any]]) -> Mapping[str, str]:
    """What became of a visit's reminders: one that went out outweighs one that did not, that one outweighs a failure."""
    found: dict[str, str] = {}
    for about, state in rows:
        fate = "sent" if state == MessageState.SENT else "failed" if state in FAILED else "not_sent"
        if FATES.index(fate) < FATES.index(found.get(about, "none")):
            found[about] = fate
    return found


FAILED = (MessageState.FAILED, MessageState.UNKNOWN)
