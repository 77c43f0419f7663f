"""Change from the first to the last value of each measure, judged against its MDC and MCID, by complaint."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Any

from django.contrib.postgres.fields import ArrayField
from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Count, Exists, F, FloatField, Func, Max, Min, OuterRef, QuerySet, RowRange, Window
from django.db.models.functions import FirstValue, LastValue

from clinic.people.models import Episode, Staff, User
from clinic.people.queries import sites_for
from clinic.people.vocab import EpisodeStatus, Role
from clinic.visits.models import Measure, Result
from clinic.visits.queries import change_of
from clinic.visits.rules.change import Change
from dashboards.read_models.outcome_rows import OutcomeRow, Outcomes, RegionRow, Tally

PERIOD = timedelta(days=365)
SERIES = ("episode__region", "episode__status", "measure", "side", "episode")
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
    for region, status, measure, first, last, once, number in _ends(scope):
        if once:
            code = "missing" if status == EpisodeStatus.FINISHED else "waiting"
        else:
            code = _word(change_of(measures[measure], first, last))
        tallies[measure, region][code] += number
    unmeasured = Count("pk", filter=~Exists(Result.objects.filter(episode=OuterRef("pk"))))
    totals = scope.values("region").annotate(number=Count("pk"), without=unmeasured)
    return Outcomes(
        tuple(
            OutcomeRow(measures[pk].code, measures[pk].name, region, Tally(**counter))
            for (pk, region), counter in sorted(tallies.items(), key=lambda entry: (measures[entry[0][0]].name, entry[0][1]))
        ),
        tuple(
            RegionRow(row["region"], row["number"], row["without"])
            for row in sorted(totals, key=lambda row: (-row["number"], row["region"]))
        ),
    )


End = tuple[str, str, int, float, float, bool, int]


def _ends(scope: QuerySet[Episode]) -> Iterable[End]:
    """(region, status, measure, first value, last value, both of one day, how many such series there are); one query."""
    rows = Result.objects.filter(episode__in=scope).order_by()
    return _ends_added_up(rows) if connection.vendor == "postgresql" else _ends_one_by_one(rows)


def _ends_one_by_one(rows: QuerySet[Result]) -> Iterator[End]:
    series: dict[str, Any] = {"partition_by": [F("episode"), F("measure"), F("side")]}
    ordered: dict[str, Any] = {**series, "order_by": [F("at").asc(), F("pk").asc()], "frame": RowRange()}
    found = rows.annotate(
        first=Window(FirstValue("value"), **ordered), last=Window(LastValue("value"), **ordered),
        begun=Window(Min("at"), **series), ended=Window(Max("at"), **series),
    ).values_list(*SERIES, "first", "last", "begun", "ended").distinct()
    for region, status, measure, _, _, first, last, begun, ended in found:
        yield region, status, measure, first, last, begun.date() == ended.date(), 1


ADDED_UP = """
    SELECT of.region, of.status, measure, begun[3], ended[3], floor(begun[1] / 86400) = floor(ended[1] / 86400), count(*)
    FROM ({series}) AS series (episode, measure, side, begun, ended) JOIN people_episode AS of ON of.id = episode
    GROUP BY 1, 2, 3, 4, 5, 6
"""


def _ends_added_up(rows: QuerySet[Result]) -> list[End]:
    """The same by PostgreSQL: the least and the greatest [seconds, key, value] of a series are its ends, and equal ends are
    counted together, so that a practice with hundreds of thousands of values is read as the few lines they come to."""
    seconds = Func(F("at"), template="date_part('epoch', %(expressions)s)", output_field=FloatField())
    moment = Func(seconds, F("pk"), F("value"), template="ARRAY[%(expressions)s]", output_field=ArrayField(FloatField()))
    series = rows.values("episode", "measure", "side").annotate(begun=Min(moment), ended=Max(moment))
    try:
        sql, values = series.query.sql_with_params()
    except EmptyResultSet:     # somebody who sees none
        return []
    with connection.cursor() as cursor:
        cursor.execute(ADDED_UP.replace("{series}", sql), values)
        return list(cursor.fetchall())


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
