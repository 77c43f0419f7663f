"""Change from the first to the last value of each measure, judged against its MDC and MCID, by complaint."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, F, Max, Min, QuerySet, RowRange, Window
from django.db.models.functions import FirstValue, LastValue

from clinic.people.models import Episode, Staff, User
from clinic.people.queries import sites_for
from clinic.people.vocab import EpisodeStatus, Role
from clinic.visits.models import Measure, Result
from clinic.visits.queries import change_of
from clinic.visits.rules.change import Change
from dashboards.read_models.outcome_rows import OutcomeRow, Outcomes, RegionRow, Tally

PERIOD = timedelta(days=365)
COLUMNS = (
    "episode", "episode__region", "episode__status", "measure", "side", "first", "last", "begun", "ended",
)
WORKED_ON = (EpisodeStatus.ACTIVE, EpisodeStatus.ONHOLD, EpisodeStatus.FINISHED)


def episodes(user: User, today: date, clinician: Staff | None = None) -> QuerySet[Episode]:
    """Episodes opened in the last year: a clinician's own, those of a lead's sites (or of one clinician); nobody else's."""
    rows = Episode.objects.filter(opened__gt=today - PERIOD, opened__lte=today, status__in=WORKED_ON).order_by()
    if user.role == Role.CLINICIAN:
        return rows.filter(lead__user=user)
    if user.role != Role.LEAD:
        return rows.none()
    rows = rows.filter(client__site__in=sites_for(user).order_by())
    return rows.filter(lead=clinician) if clinician else rows


def outcomes(user: User, today: date, clinician: Staff | None = None) -> Outcomes:
    """Tallies by measure and region; three queries.

    One comparison is one measure on one side in one episode. It needs values of two different days (UTC): a second value
    of the first day is no follow-up.
    """
    scope = episodes(user, today, clinician)
    measures = {row.pk: row for row in Measure.objects.all()}
    tallies: dict[tuple[int, str], Counter[str]] = defaultdict(Counter)
    measured: dict[str, set[int]] = defaultdict(set)
    for episode, region, status, measure, _, first, last, begun, ended in _ends(scope):
        measured[region].add(episode)
        if begun.date() == ended.date():
            code = "missing" if status == EpisodeStatus.FINISHED else "waiting"
        else:
            code = _word(change_of(measures[measure], first, last))
        tallies[measure, region][code] += 1
    totals = dict(scope.values_list("region").annotate(Count("pk")))
    return Outcomes(
        tuple(
            OutcomeRow(measures[pk].code, measures[pk].name, region, Tally(**counter))
            for (pk, region), counter in sorted(tallies.items(), key=lambda entry: (measures[entry[0][0]].name, entry[0][1]))
        ),
        tuple(
            RegionRow(region, number, number - len(measured[region]))
            for region, number in sorted(totals.items(), key=lambda entry: (-entry[1], entry[0]))
        ),
    )


def _ends(scope: QuerySet[Episode]) -> QuerySet[Result, tuple[Any, ...]]:
    """What COLUMNS name, one row a series; one query."""
    series: dict[str, Any] = {"partition_by": [F("episode"), F("measure"), F("side")]}
    ordered: dict[str, Any] = {**series, "order_by": [F("at").asc(), F("pk").asc()], "frame": RowRange()}
    rows = Result.objects.filter(episode__in=scope).order_by()
    return rows.annotate(
        first=Window(FirstValue("value"), **ordered), last=Window(LastValue("value"), **ordered),
        begun=Window(Min("at"), **series), ended=Window(Max("at"), **series),
    ).values_list(*COLUMNS).distinct()


def _word(change: Change) -> str:
    match change.code:
        case "improved_beyond_mcid":
            return "improved"
        case "worse_beyond_mcid":
            return "worse"
        case "changed_beyond_error":
            return "better" if change.better else "worse"
        case "no_detectable_change":
            return "same"
    return "unjudged"
