"""One episode on one axis of days, read for whoever came through the client's door."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Max, Prefetch, Q

from clinic.booking.models import Appointment
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import Episode, User
from clinic.people.rules import zones
from clinic.visits.queries import Series, results_for
from clinic.visits.vocab import Direction
from dashboards.read_models.timeline_rows import (
    DayKind,
    DayRow,
    Dose,
    LevelRun,
    MeasureLine,
    PauseRow,
    RevisionRow,
    Timeline,
    VisitKind,
    VisitRow,
)
from programs.following.models import DayRecord
from programs.following.rules import adherence
from programs.following.rules.intervals import wilson
from programs.following.vocab import DayState
from programs.library.models import Level
from programs.prescribing.models import Item, Pause, Program, Revision
from programs.prescribing.queries import plan_of
from programs.prescribing.rules.diff import differences
from programs.prescribing.rules.plan import Plan

MOST_DAYS = 400    # a year and its reviews; what is older stays in the logs and in the measures' own table
AHEAD = timedelta(days=28)
LEFT_OUT = (AppointmentStatus.ENTERED_IN_ERROR, AppointmentStatus.PROPOSED, AppointmentStatus.WAITLIST)
COMING = (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)
Version = tuple[Revision, Plan]


def timeline(user: User, episode: Episode, now: datetime) -> tuple[Timeline, list[Series]]:
    """The timeline and the series of measures behind it; ten queries. `episode` came through its door with its client.

    NotThere for whoever may not see results.
    """
    today = zones.day_in(now, episode.client.zone)
    series = results_for(user, episode)
    measures = [_measure(row, episode.client.site.zone) for row in series]
    programs = {row.pk: row for row in Program.objects.filter(episode=episode).order_by("starts", "pk")}
    versions = _versions(programs)
    visits = _visits(episode, now, today)
    days = _merged(_days(programs, today))
    pauses, dose = _pauses(programs, today), dose_of(days, today)
    begun = [
        *(row.starts for row in programs.values()), *(row.day for row in visits),
        *(line.points[0][0] for line in measures), episode.opened,
    ]
    last = max([today, *(row.day for row in visits if row.kind == "coming")])
    first = max(min(begun), last - timedelta(days=MOST_DAYS - 1))
    found = Timeline(
        first, last, today, min(begun) < first, dose, tuple(row for row in days if row.day >= first),
        tuple(_runs(programs, versions, first, today)),
        tuple(row for row in _revisions(programs, versions) if first <= row.day <= last),
        tuple(row for row in pauses if row.last >= first), tuple(row for row in visits if row.day >= first),
        tuple(measures),
        {item.exercise.slug: item.exercise.name for held in versions.values() for row, _ in held for item in row.items.all()},
    )
    return found, series


def _versions(programs: Iterable[int]) -> dict[int, list[Version]]:
    """Revisions with their plans by program, oldest first; three queries."""
    items = Item.objects.select_related("exercise", "level")
    rows = Revision.objects.filter(program__in=list(programs)).select_related("author__staff")
    found: dict[int, list[Version]] = {}
    for row in rows.prefetch_related("phases", Prefetch("items", items)).order_by("number"):
        found.setdefault(row.program_id, []).append((row, plan_of(row)))
    return found


def _days(programs: Iterable[int], today: date) -> list[DayRow]:
    rows = DayRecord.objects.filter(program__in=list(programs), day__lte=today).order_by("day", "program")
    return [
        DayRow(
            row.day, _kind(row, today), row.phase_kind, row.prescribed_sessions, row.sessions_done, row.prescribed_minimum,
            row.prescribed_full, row.done_seconds, row.credit, row.pain, row.pain_next_morning, row.effort,
        )
        for row in rows
    ]


def _kind(row: DayRecord, today: date) -> DayKind:
    if row.logged and row.done_seconds:
        return "done"
    if row.state == DayState.PAUSED:
        return "paused"
    if row.state == DayState.REST or not row.prescribed_sessions:
        return "rest"
    if row.logged:
        return "zero"
    return "silent" if row.day < today else "waiting"


def _merged(days: Sequence[DayRow]) -> list[DayRow]:
    """One row a day: where one program ended on the day that the next one began, the newer one's stands."""
    return list({row.day: row for row in days}.values())


def dose_of(days: Sequence[DayRow], today: date) -> Dose:
    """What was done of what was asked, by the same rules as the caseload's numbers."""
    counted = [
        adherence.Counted(
            row.day, "paused" if row.kind == "paused" else "prescribed", row.asked, row.credit, row.sessions,
            row.kind in {"done", "zero"}, row.done, row.full,
        )
        for row in days
    ]
    done, asked = adherence.sessions(counted, today)
    return Dose(
        adherence.share(counted, today), done, asked, wilson(done, asked), sum(row.kind == "silent" for row in days),
        sum(row.kind == "zero" for row in days), sum(row.kind == "paused" for row in days),
    )


def _runs(programs: dict[int, Program], versions: dict[int, list[Version]], first: date, today: date) -> list[LevelRun]:
    """How long each item stood at each level, cut to first..today."""
    most = dict(Level.objects.order_by().values_list("exercise").annotate(Max("number")))
    found: list[LevelRun] = []
    for pk, held in versions.items():
        end = min(programs[pk].ended or today, today)
        newest: dict[Any, LevelRun] = {}
        for place, (revision, _) in enumerate(held):
            begins = revision.effective_from
            until = min([end, *(later.effective_from - timedelta(days=1) for later, _ in held[place + 1:])])
            if until < max(begins, first):
                continue
            for item in revision.items.all():
                known = newest.get(item.key)
                same = known and (known.exercise, known.level) == (item.exercise.name, item.level.number)
                fits = same and known and known.last >= begins - timedelta(days=1)   # not taken out in between
                run = LevelRun(
                    f"{pk}:{item.key}", item.exercise.name, item.level.number, most.get(item.exercise_id, item.level.number),
                    known.first if known and fits else max(begins, first), until,
                )
                if known and not fits:
                    found.append(known)
                newest[item.key] = run
        found += newest.values()
    return found


def _revisions(programs: dict[int, Program], versions: dict[int, list[Version]]) -> list[RevisionRow]:
    rows = []
    for pk, held in versions.items():
        before: Plan | None = None
        for revision, plan in held:
            author = getattr(revision.author, "staff", None)
            rows.append(
                RevisionRow(
                    revision.effective_from, revision.number, programs[pk].title, author.name if author else "The system",
                    revision.reason, tuple(differences(before, plan)) if before else (),
                )
            )
            before = plan
    return sorted(rows, key=lambda row: (row.day, row.number))


def _pauses(programs: Iterable[int], today: date) -> list[PauseRow]:
    """Pauses that have begun and hold a day; an open one goes on to today."""
    rows = [
        PauseRow(row.first, row.until - timedelta(days=1) if row.until else today, row.until is None, row.reason)
        for row in Pause.objects.filter(program__in=list(programs), first__lte=today).order_by("first", "pk")
    ]
    return [row for row in rows if row.first <= row.last]


def _visits(episode: Episode, now: datetime, today: date) -> list[VisitRow]:
    """Visits of this episode, and those of the client that name none while it was open; up to four weeks ahead."""
    rows = Appointment.objects.filter(Q(episode=episode) | Q(episode__isnull=True), client=episode.client_id)
    rows = rows.exclude(status__in=LEFT_OUT).select_related("visit_type", "clinician", "site").order_by("starts", "pk")
    found = []
    for row in rows:
        day = zones.day_in(row.starts, row.site.zone)
        open_then = episode.opened <= day and (episode.closed is None or day <= episode.closed)
        if day <= today + AHEAD and (row.episode_id or open_then):
            found.append(VisitRow(day, _outcome(row, now), row.visit_type.name, row.clinician.name))
    return found


def _outcome(row: Appointment, now: datetime) -> VisitKind:
    if row.status == AppointmentStatus.NOSHOW:
        return "missed"
    if row.status == AppointmentStatus.CANCELLED:
        return "cancelled"
    if row.status in COMING:
        return "coming" if row.ends > now else "unclosed"
    return "kept"


def _measure(row: Series, zone: str) -> MeasureLine:
    return MeasureLine(
        row.measure.name, row.side, row.measure.unit, row.measure.direction == Direction.HIGHER_IS_BETTER,
        row.measure.mdc, row.measure.mcid, tuple((zones.day_in(point.at, zone), point.value) for point in row.points),
    )
