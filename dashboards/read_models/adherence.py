"""Adherence by program and week. A week's share is that of programs.following.rules.adherence, added up by the database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from django.db.models import Case, Count, F, FloatField, IntegerField, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Least, TruncWeek

from clinic.people.models import Staff, User
from dashboards.read_models.patterns import PATTERNS, pattern
from dashboards.read_models.people import caseload_programs
from dashboards.read_models.rows import BAND_ORDER, AdherenceRow, ProgramLine, WeekCell
from programs.following.models import DayRecord
from programs.following.vocab import Band, DayState
from programs.prescribing.models import Program

WEEKS = 26
DAYS = 28


NOTHING = WeekCell("nothing")


def programs(user: User, clinician: Staff | None = None, band: str = "") -> QuerySet[Program]:
    """Open programs, of one band or all, by band (silent first), then by share, then by name."""
    places = Case(
        *(When(state__band=band, then=Value(place)) for place, band in enumerate(BAND_ORDER)),
        default=Value(BAND_ORDER.index(Band.NEW)), output_field=IntegerField(),
    )
    rows = caseload_programs(user, clinician).select_related("state", "client", "clinician")
    if band:
        rows = rows.filter(Q(state__band=band) | Q(state__isnull=True) if band == Band.NEW else Q(state__band=band))
    return rows.order_by(
        places, F("state__adherence_7").asc(nulls_last=True), "client__family_name", "client__given_name", "pk"
    )


def lines_of(rows: Iterable[Program]) -> list[ProgramLine]:
    """The programs as the heat map lists them."""
    found = []
    for row in rows:
        state = getattr(row, "state", None)
        band = state.band if state else Band.NEW
        phase = "paused" if row.status == "on-hold" else (state.phase_kind if state else "") or "not_begun"
        found.append(ProgramLine(
            row.pk, row.public_id, row.client.name, row.client.public_id, row.title, row.clinician.name, band, phase,
            state.adherence_7 if state else None,
        ))
    return found


def weeks(today: date, count: int = WEEKS) -> list[date]:
    """The Mondays of the last `count` weeks, this one included, oldest first."""
    monday = today - timedelta(days=today.weekday())
    return [monday - timedelta(weeks=back) for back in reversed(range(count))]


def rows_of(shown: Sequence[ProgramLine], mondays: Sequence[date], today: date) -> list[AdherenceRow]:
    """The lines with their weeks: one aggregate query."""
    counted = Q(prescribed_sessions__gt=0) & (Q(day__lt=today) | Q(day=today, logged=True))
    found = (
        DayRecord.objects.filter(program__in=[line.pk for line in shown], day__gte=mondays[0], day__lte=today)
        .order_by()
        .annotate(week=TruncWeek("day"))
        .values("program", "week")
        .annotate(
            asked=Sum("prescribed_sessions", filter=counted, default=0),
            done=Sum(Least("sessions_done", "prescribed_sessions"), filter=counted, default=0),
            credit=Sum(
                F("credit") * F("prescribed_sessions"), filter=counted, default=0.0, output_field=FloatField()
            ),
            silent=Count("pk", filter=counted & Q(logged=False)),
            answered=Count("pk", filter=counted & Q(logged=True)),
            paused=Count("pk", filter=Q(state=DayState.PAUSED)),
        )
    )
    cells = {(row["program"], row["week"]): _cell(row) for row in found}
    return [
        AdherenceRow(line, tuple(cells.get((line.pk, monday), NOTHING) for monday in mondays)) for line in shown
    ]


def days(today: date, count: int = DAYS) -> list[date]:
    """The last `count` days, today included, oldest first."""
    return [today - timedelta(days=back) for back in reversed(range(count))]


def day_rows(shown: Sequence[ProgramLine], columns: Sequence[date], today: date) -> list[AdherenceRow]:
    """The lines with their days, those of one band whose days look alike together; one query."""
    found = DayRecord.objects.filter(program__in=[line.pk for line in shown], day__gte=columns[0], day__lte=today).order_by()
    cells = {
        (program, day): _day_cell(state, asked, done, credit, logged, day < today)
        for program, day, state, asked, done, credit, logged in found.values_list(
            "program", "day", "state", "prescribed_sessions", "sessions_done", "credit", "logged"
        )
    }
    rows = []
    for line in shown:
        own = tuple(cells.get((line.pk, day), NOTHING) for day in columns)
        rows.append(AdherenceRow(line, own, pattern(columns, own)))
    return sorted(rows, key=lambda row: (BAND_ORDER.index(row.line.band), PATTERNS.index(row.pattern)))


def _day_cell(state: str, asked: int, done: int, credit: float, logged: bool, over: bool) -> WeekCell:
    if not asked or not (over or logged):
        return WeekCell("paused") if state == DayState.PAUSED else NOTHING
    if not logged:
        return WeekCell("silent", None, 0, asked, 1)
    return WeekCell("share" if credit else "zero", credit, min(done, asked), asked)


def _cell(row: Mapping[str, Any]) -> WeekCell:
    if not row["asked"]:
        return WeekCell("paused") if row["paused"] else NOTHING
    asked, silent = int(row["asked"]), int(row["silent"])
    if not row["answered"]:
        return WeekCell("silent", None, 0, asked, silent)
    share = row["credit"] / row["asked"]
    return WeekCell("share" if share else "zero", share, int(row["done"]), asked, silent)
