"""Doors and reads of visits. Reassessments are for the desk too; notes and results are clinical and are not."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Any
from uuid import UUID

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from clinic.booking.models import Appointment
from clinic.booking.vocab import AppointmentStatus
from clinic.people import looking
from clinic.people.models import Client, Episode, User
from clinic.people.queries import clients_for
from clinic.people.refusal import NotThere
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits.models import Measure, Reassessment, Result, Visit
from clinic.visits.rules import window
from clinic.visits.rules.change import Change, judge, symmetry
from clinic.visits.rules.scoring import Structure
from clinic.visits.vocab import Direction, ReassessmentStatus

CLINICAL = (Role.CLINICIAN, Role.LEAD)
STANDS = ("public_id", "reason", "earliest", "due", "latest", "status", "appointment__starts", "appointment__site__zone")
LIVE = (AppointmentStatus.BOOKED, AppointmentStatus.ARRIVED, AppointmentStatus.CHECKED_IN, AppointmentStatus.FULFILLED)


@dataclass(frozen=True, slots=True)
class ReassessmentRow:
    """Where one reassessment stands on a day. `days` as in rules.window.state; `booked_for` is UTC."""

    public_id: UUID
    reason: str
    earliest: date
    due: date
    latest: date
    state: window.State
    days: int
    booked_for: datetime | None

    @property
    def days_overdue(self) -> int:
        return self.days if self.state == "overdue" else 0

    @property
    def unclosed(self) -> bool:
        """Its visit's day has passed and nobody said how it went."""
        return self.state == "booked" and self.days < 0


@dataclass(frozen=True, slots=True)
class Point:
    value: float
    at: datetime


@dataclass(frozen=True, slots=True)
class Series:
    """All results of one measure on one side, oldest first; `change` compares the newest with the first."""

    measure: Measure
    side: str
    points: tuple[Point, ...]
    change: Change | None


def reassessments_for(user: User) -> QuerySet[Reassessment]:
    """Reassessments a person may see, most urgent first.

    Front desk and lead: of every client of their sites. A clinician: of the episodes they lead, and those booked with
    them. A client: their own. The system: all.
    """
    rows = Reassessment.objects.select_related(
        "episode__client__site", "episode__lead__user", "appointment__clinician", "appointment__site"
    ).order_by("due", "pk")
    if user.role == Role.CLINICIAN and user.is_active:
        return rows.filter(Q(episode__lead__user=user) | Q(appointment__clinician__user=user))
    return rows.filter(episode__client__in=clients_for(user))


def reassessment_for(user: User, public_id: UUID | str) -> Reassessment:
    """One reassessment the user may see."""
    row = reassessments_for(user).filter(public_id=public_id).first()
    if row is None:
        raise NotThere
    looking.note(user, row.episode.client_id)
    return row


def _in_state(today: date) -> dict[str, Q]:
    """The states of rules.window as conditions; together with it held by a test."""
    unbooked = Q(status=ReassessmentStatus.OPEN, appointment__isnull=True)
    soon = window.soon_until(today)
    return {
        "overdue": unbooked & Q(due__lt=today),
        "due": unbooked & Q(earliest__lte=today, due__gte=today),
        "due_soon": unbooked & Q(earliest__gt=today, earliest__lte=soon),
        "not_yet": unbooked & Q(earliest__gt=soon),
        "booked": Q(status=ReassessmentStatus.OPEN, appointment__isnull=False),
        "done": Q(status=ReassessmentStatus.DONE),
    }


def overdue_list(user: User, today: date, state: str | None = None) -> QuerySet[Reassessment]:
    """The reassessments in `state` (a code of rules.window), or every open one; archived clients are left out."""
    rows = reassessments_for(user).filter(episode__client__archived__isnull=True)
    conditions = _in_state(today)
    if state is None:
        return rows.filter(status=ReassessmentStatus.OPEN)
    if state not in conditions:
        return rows.none()
    if state == "booked":
        return rows.filter(conditions[state]).order_by("appointment__starts", "pk")
    return rows.filter(conditions[state])


def state_counts(user: User, today: date) -> dict[str, int]:
    """How many are in each state, and `all` that are open."""
    rows = reassessments_for(user).filter(episode__client__archived__isnull=True).order_by()
    counts = {code: Count("pk", filter=condition, distinct=True) for code, condition in _in_state(today).items()}
    return rows.aggregate(**counts, all=Count("pk", filter=Q(status=ReassessmentStatus.OPEN), distinct=True))


def row_of(reassessment: Reassessment, today: date) -> ReassessmentRow:
    """Where it stands on `today`, a day of its site."""
    row, visit = reassessment, reassessment.appointment
    values = (row.public_id, row.reason, row.earliest, row.due, row.latest, row.status)
    return standing_of((*values, visit.starts if visit else None, visit.site.zone if visit else None), today)


def standing_of(values: Sequence[Any], today: date) -> ReassessmentRow:
    """Where one stands on `today`, from its columns STANDS."""
    public_id, reason, earliest, due, latest, status, starts, zone = values
    booked_on = zones.day_in(starts, zone) if starts else None
    code, days = window.state(earliest, due, latest, today, booked_on, status == ReassessmentStatus.DONE)
    return ReassessmentRow(public_id, reason, earliest, due, latest, code, days, starts)


def next_reassessments(episode_pks: Iterable[int], today: date) -> dict[int, ReassessmentRow]:
    """The open reassessment that is due first, for each episode that has one: one query. No rights are asked here."""
    rows = (
        Reassessment.objects.filter(episode__in=list(episode_pks), status=ReassessmentStatus.OPEN)
        .select_related("appointment__site")
        .order_by("due", "pk")
    )
    first: dict[int, ReassessmentRow] = {}
    for row in rows:
        first.setdefault(row.episode_id, row_of(row, today))
    return first


def measures() -> QuerySet[Measure]:
    """Every outcome measure, by name."""
    return Measure.objects.all()


def measure(code: str) -> Measure:
    """The measure with that code."""
    found = Measure.objects.filter(code=code).first()
    if found is None:
        raise NotThere
    return found


def structure_of(measure: Measure) -> Structure:
    """Its scoring structure as a plain value. ValueError when the row makes no sense."""
    return Structure(
        scoring=measure.scoring,  # type: ignore[arg-type]
        items=measure.items, minimum=measure.item_minimum, maximum=measure.item_maximum,
        answered=measure.minimum_answered,
    )


def change_of(measure: Measure, before: float, after: float) -> Change:
    """What the difference between two values of a measure means."""
    return judge(
        before, after, higher_is_better=measure.direction == Direction.HIGHER_IS_BETTER, mdc=measure.mdc,
        mcid=measure.mcid,
    )


def results_for(user: User, episode: Episode) -> list[Series]:
    """Results of an episode by measure and side; for clinicians and leads who may see the client."""
    if user.role not in CLINICAL or not clients_for(user).filter(pk=episode.client_id).exists():
        raise NotThere
    rows = Result.objects.filter(episode=episode).select_related("measure").order_by("measure__name", "side", "at", "pk")
    return _series(rows)


def _series(rows: Iterable[Result]) -> list[Series]:
    """Results of one episode, sorted by measure, side and time, as lines."""
    grouped: dict[tuple[int, str], list[Result]] = {}
    for row in rows:
        grouped.setdefault((row.measure_id, row.side), []).append(row)
    return [
        Series(
            measure=found[0].measure, side=side, points=tuple(Point(row.value, row.at) for row in found),
            change=change_of(found[0].measure, found[0].value, found[-1].value) if len(found) > 1 else None,
        )
        for (_, side), found in grouped.items()
    ]


def own_series(user: User) -> list[tuple[Episode, list[Series]]]:
    """What was measured of the signed-in client, by episode, the newest first: one's own numbers are one's own."""
    rows = own_results(user).order_by("-episode__opened", "-episode", "measure__name", "side", "at", "pk")
    return [(episode, _series(found)) for episode, found in groupby(rows, key=lambda row: row.episode)]


def own_results(user: User) -> QuerySet[Result]:
    """The same as rows, each with the `first` value of its line; in no order."""
    line = Result.objects.filter(episode=OuterRef("episode"), measure=OuterRef("measure"), side=OuterRef("side"))
    return (
        Result.objects.filter(episode__client__in=Client.objects.filter(user=user, archived__isnull=True))
        .annotate(first=Subquery(line.order_by("at", "pk").values("value")[:1]))
        .select_related("measure", "episode")
    )


def symmetries(series: Iterable[Series]) -> dict[int, float | None]:
    """Percent left/right symmetry of the newest values, for each measure (by key) that has both sides."""
    newest: dict[int, dict[str, float]] = {}
    for line in series:
        newest.setdefault(line.measure.pk, {})[line.side] = line.points[-1].value
    return {key: symmetry(sides["left"], sides["right"]) for key, sides in newest.items() if {"left", "right"} <= set(sides)}


def visits_of(user: User, episode: Episode) -> QuerySet[Visit]:
    """Visit records of an episode that were not corrected, newest first; for clinicians and leads of the client."""
    if user.role not in CLINICAL or not clients_for(user).filter(pk=episode.client_id).exists():
        raise NotThere
    return Visit.objects.filter(episode=episode, superseded_by__isnull=True).select_related("clinician")


def unrecorded_appointments(episode: Episode, now: datetime) -> QuerySet[Appointment]:
    """Attended or running appointments of the episode's client up to now that have no record yet, newest first."""
    return (
        Appointment.objects.filter(client=episode.client_id, status__in=LIVE, starts__lte=now, visits__isnull=True)
        .filter(Q(episode=episode) | Q(episode__isnull=True))
        .select_related("visit_type", "clinician", "site")
        .order_by("-starts")
    )
