"""No-shows: week by week, by lead time, by what became of the reminder. Nothing clinical."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from dashboards.figures import attendance as figures
from dashboards.figures.shares import percent
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.pages.words import DASH
from dashboards.read_models import attendance as model
from dashboards.read_models.practice_rows import Attendance, GroupAttendance


@page(*VIEWERS)
def attendance(request: HttpRequest) -> HttpResponse:
    """Who was expected and did not come."""
    return charted(request, "dashboards/attendance.html", *_read(request))


def _read(request: HttpRequest) -> Read:
    given = asked(request)
    part = model.attendance(given.user, given.now, given.zone, given.clinician)
    reminded = model.reminded(given.user, given.now, given.clinician)
    return (part, reminded), lambda: {
        **given.context, "here": "attendance", "csv": reverse("dashboards:attendance_csv"), "whole": part.whole,
        "control": chart("control", figures.control(part)), "leads": chart("leads", figures.leads(part)),
        "reminders": chart("reminders", figures.reminders(reminded)),
        "weeks": [
            (week, _of(week.seen, week.share), span_words(week.low, week.high), SIGNALS[week.signal])
            for week in reversed(part.weeks)
        ],
        "lead_rows": [_group(group, figures.LEAD_WORDS[group.code]) for group in part.leads],
        "reminder_rows": [_group(group, figures.FATES[group.code]) for group in reminded],
        "centre": share_words(part.centre), "any_reminded": any(group.seen.expected for group in reminded),
    }


SIGNALS = {0: "", 1: "more than chance", -1: "fewer than chance"}


def share_words(share: float | None) -> str:
    """`6 %`; a dash where nobody was expected."""
    return DASH if share is None else percent(share)


def span_words(low: float | None, high: float | None) -> str:
    """`2 to 14 %`; a dash without limits."""
    return DASH if low is None or high is None else f"{percent(low).removesuffix(' %')} to {percent(high)}"


def _of(seen: Attendance, share: float | None) -> str:
    """`2 of 14, 14 %`; a dash where nobody was expected."""
    return DASH if share is None else f"{seen.missed} of {seen.expected}, {percent(share)}"


def _group(group: GroupAttendance, word: str) -> tuple[str, GroupAttendance, str, str]:
    return word, group, _of(group.seen, group.share), span_words(*(group.interval or (None, None)))


@page(*VIEWERS)
def attendance_csv(request: HttpRequest) -> HttpResponse:
    """The weeks as a file; shares in percent, empty where nobody was expected; or one chart of the page."""
    if file := chart_csv(request, "no-shows", _read):
        return file
    given = asked(request)
    part = model.attendance(given.user, given.now, given.zone, given.clinician)
    header = (
        "Week of", "Kept", "No-shows", "Cancelled", "Not closed", "No-shows (%)", "Lower limit (%)", "Upper limit (%)",
        "Stands out",
    )
    return csv_answer("no-shows", header, (
        (
            week.monday.isoformat(), week.seen.kept, week.seen.missed, week.seen.cancelled, week.seen.unclosed,
            *(None if value is None else round(100 * value, 1) for value in (week.share, week.low, week.high)),
            SIGNALS[week.signal],
        )
        for week in part.weeks
    ))
