"""One client's episode on one axis of days, with its story beside it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.queries import client_for, episode_for, episodes_for
from clinic.people.refusal import NotThere
from dashboards.figures import timeline as figures
from dashboards.pages import story
from dashboards.pages.asking import VIEWERS, Chart, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import chart_csv
from dashboards.read_models.timeline import timeline as model
from dashboards.read_models.timeline_rows import Timeline
from programs.prescribing.queries import programs_for

KEY = [
    ("▮", "asked for, at least dark, at most light; orange what was done"), ("○", "no log"), ("–", "logged as not done"),
    ("●", "pain during"), ("◆", "pain the next morning"), ("□", "effort"), ("//", "paused, on grey"),
    ("⋮", "a new revision counts"), ("▒", "cannot be told from the first value (MDC)"),
    ("╌", "from here on people notice it (MCID)"),
]


@page(*VIEWERS)
def timeline(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Prescribed against done, pain, levels, revisions, pauses, visits and measures of one episode (`?episode=`)."""
    client, episodes, episode = _asked(request, public_id)
    if episode is None:
        return render(request, "dashboards/timeline.html", {"client": client, "episodes": []})
    found, series = model(me(request), episode, timezone.now())
    programs = programs_for(me(request)).filter(episode=episode).order_by("-starts", "-pk")
    return render(request, "dashboards/timeline.html", {
        "client": client, "episodes": episodes, "episode": episode, "found": found, "program": programs.first(),
        "chart": _drawn(found), "names": found.names,
        "sentences": story.sentences(found, series, client.site.zone), "events": story.events(found),
        "days": [story.day_cells(row) for row in reversed(found.days)], "measures": story.measure_rows(found),
        "levels": story.level_rows(found),
        "csv": reverse("dashboards:timeline_csv", args=[client.public_id]),
    })


def _drawn(found: Timeline) -> Chart:
    return chart("timeline", figures.timeline(found), key=KEY)


@page(*VIEWERS)
def timeline_csv(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The days as a file; minutes, 0-10, empty where nobody answered; or the marks of the chart."""
    _, _, episode = _asked(request, public_id)
    if episode is None:
        raise NotThere
    found, _ = model(me(request), episode, timezone.now())
    if file := chart_csv(request, "timeline", lambda _: ((), lambda: {"chart": _drawn(found)})):
        return file
    header = (
        "Day", "State", "Phase", "Sessions asked", "Sessions done", "Minutes at least", "Minutes at most", "Minutes done",
        "Pain", "Pain next morning", "Effort",
    )
    return csv_answer("timeline", header, (
        (
            row.day.isoformat(), story.DAY_KINDS[row.kind][1], row.phase, row.asked, row.sessions, round(row.minimum / 60, 1),
            round(row.full / 60, 1), round(row.done / 60, 1), row.pain, row.morning, row.effort,
        )
        for row in found.days
    ))


def _asked(request: HttpRequest, public_id: UUID) -> tuple[Any, list[Any], Any]:
    """The client, their episodes, and the one asked for: the newest when none is named. NotThere by their doors."""
    user = me(request)
    client = client_for(user, public_id)
    episodes = list(episodes_for(user).filter(client=client).order_by("-opened", "-pk"))
    named = request.GET.get("episode", "")
    if not named:
        return client, episodes, episode_for(user, episodes[0].public_id) if episodes else None
    try:
        episode = episode_for(user, UUID(named))
    except ValueError:
        raise NotThere from None
    if episode.client_id != client.pk:
        raise NotThere
    return client, episodes, episode
