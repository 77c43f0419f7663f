"""Where programs and their exercises stand: phases, levels, how long at a level, what no longer moves and what may be why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from django.db.models import Case, CharField, Count, F, IntegerField, Max, OuterRef, Q, QuerySet, Subquery, Value, When

from clinic.people.models import Staff, User
from dashboards.read_models.people import caseload_programs
from dashboards.read_models.rows import STUCK_DAYS, TIMES, Decided, ItemRow, MonthRow
from programs.following.models import ItemRun, PhaseRun, Suggestion
from programs.following.rules.survival import Followed
from programs.following.vocab import SuggestionKind, SuggestionState
from programs.library.models import Exercise, Level
from programs.prescribing.vocab import ProgramStatus

MONTHS = 12


@dataclass(frozen=True, slots=True)
class Progression:
    """Programs by phase, and exercises in force by (level number, index of rows.TIMES)."""

    phases: Counter[str]
    levels: Counter[tuple[int, int]]


def phases(user: User, clinician: Staff | None = None) -> Counter[tuple[str, str]]:
    """Open programs by (phase, band); one query. A phase is a kind, `paused` or `not_begun`; without a state it is `new`."""
    rows = caseload_programs(user, clinician).order_by().values_list("status", "state__phase_kind", "state__band")
    found: Counter[tuple[str, str]] = Counter()
    for status, kind, band, count in rows.annotate(Count("pk")):
        phase = "paused" if status == ProgramStatus.ON_HOLD else kind or "not_begun"
        found[phase, band or "new"] += count
    return found


def progression(user: User, today: date, clinician: Staff | None = None) -> Progression:
    """Counts for the charts; two queries, however large the practice."""
    by_phase: Counter[str] = Counter()
    for (phase, _), count in phases(user, clinician).items():
        by_phase[phase] += count
    steps = [
        When(first__gt=today - timedelta(days=last + 1), then=Value(index))
        for index, (_, last) in enumerate(TIMES) if last is not None
    ]
    rows = in_force(user, today, clinician).order_by().values_list("level").annotate(
        time=Case(*steps, default=Value(len(TIMES) - 1), output_field=IntegerField())
    ).values_list("level", "time").annotate(Count("pk"))
    return Progression(by_phase, Counter({(level, time): count for level, time, count in rows}))


def in_force(user: User, today: date, clinician: Staff | None = None) -> QuerySet[ItemRun]:
    """The runs of the exercises that open programs ask for on `today`."""
    return ItemRun.objects.filter(Q(until__isnull=True) | Q(until__gt=today), first__lte=today).filter(
        program__in=caseload_programs(user, clinician)
    )


def ladder() -> tuple[dict[str, str], dict[str, int]]:
    """Names, and the number of levels, of the exercises by slug; two queries."""
    names = dict(Exercise.objects.order_by().values_list("slug", "name"))
    levels = dict(Level.objects.order_by().values_list("exercise__slug").annotate(Max("number")))
    return names, levels


def all_items(user: User, today: date, clinician: Staff | None = None) -> list[ItemRow]:
    """Every exercise in force, the longest at its level first; three queries."""
    names, levels = ladder()
    return item_rows(_longest_first(in_force(user, today, clinician)), today, names, levels)


def stuck_runs(user: User, today: date, levels: dict[str, int], clinician: Staff | None = None) -> QuerySet[ItemRun]:
    """Those at one level for STUCK_DAYS or more although a harder one is there; never of a paused program."""
    harder = Q(pk__in=[])
    for top in set(levels.values()):
        harder |= Q(exercise__in=[slug for slug, number in levels.items() if number == top], level__lt=top)
    rows = in_force(user, today, clinician).filter(harder, first__lte=today - timedelta(days=STUCK_DAYS))
    return _longest_first(rows.exclude(program__status=ProgramStatus.ON_HOLD))


def _longest_first(rows: QuerySet[ItemRun]) -> QuerySet[ItemRun]:
    return rows.select_related("program__client", "program__clinician").order_by(
        "first", "program__client__family_name", "program__client__given_name", "pk"
    )


def item_rows(runs: Iterable[ItemRun], today: date, names: dict[str, str], levels: dict[str, int]) -> list[ItemRow]:
    """The runs as rows."""
    return [
        ItemRow(
            run.program.client.name, run.program.client.public_id, run.program.title, run.program.public_id,
            run.program.clinician.name, names.get(run.exercise, run.exercise), run.level,
            levels.get(run.exercise, run.level), run.first, (today - run.first).days,
            run.program.status == ProgramStatus.ON_HOLD,
        )
        for run in runs
    ]


def with_why(runs: Sequence[ItemRun], rows: Sequence[ItemRow]) -> list[ItemRow]:
    """The rows of these runs, each with a code for what may hold it up; one query.

    waits: a suggestion to progress is open; declined: the newest was declined; then the state of the program: pain, silent,
    low; else quiet: no rule has proposed a harder level.
    """
    newest = Suggestion.objects.filter(
        program=OuterRef("program"), item_key=OuterRef("item_key"), kind=SuggestionKind.PROGRESS
    ).order_by("-made", "-pk").values("state")[:1]
    asked = ItemRun.objects.filter(pk__in=[run.pk for run in runs])
    asked = asked.annotate(newest=Subquery(newest, output_field=CharField()))
    found = {
        pk: _why(state, band, pain or 0)
        for pk, state, band, pain in asked.values_list("pk", "newest", "program__state__band", "program__state__pain_last")
    }
    return [replace(row, why=found[run.pk]) for run, row in zip(runs, rows, strict=True)]


PAIN_ACCEPTABLE = 5   # of 10, as in programs.following.rules.adherence.Bands


def _why(newest: str | None, band: str | None, pain: int) -> str:
    if newest == SuggestionState.OPEN:
        return "waits"
    if newest == SuggestionState.DECLINED:
        return "declined"
    if pain > PAIN_ACCEPTABLE:
        return "pain"
    return band if band in {"silent", "low"} else "quiet"


def decided(user: User, clinician: Staff | None = None) -> list[Decided]:
    """What became of the suggestions for open programs, by kind; one query."""
    rows = Suggestion.objects.filter(program__in=caseload_programs(user, clinician)).order_by().values("kind").annotate(
        **{state.value: Count("pk", filter=Q(state=state)) for state in SuggestionState}
    )
    found: dict[str, Any] = {row["kind"]: row for row in rows}
    names = [state.value for state in SuggestionState]
    return [
        Decided(kind.value, *(found[kind.value][name] for name in names)) for kind in SuggestionKind if kind.value in found
    ]


def month_ends(today: date, count: int = MONTHS) -> list[date]:
    """Today, and the last days of the months before it, oldest first."""
    found, day = [today], today
    for _ in range(count - 1):
        day = day.replace(day=1) - timedelta(days=1)
        found.append(day)
    return found[::-1]


def over_time(user: User, today: date, clinician: Staff | None = None) -> tuple[list[MonthRow], list[MonthRow]]:
    """(programs by kind of phase, exercises by level) on each month's last day, of the programs open now; two queries."""
    ends, programs = month_ends(today), caseload_programs(user, clinician)
    in_phase = {f"at{place}": Count("pk", filter=Q(first__lte=day, last__gte=day)) for place, day in enumerate(ends)}
    at_level = {
        f"at{place}": Count("pk", filter=Q(first__lte=day) & (Q(until__isnull=True) | Q(until__gt=day)))
        for place, day in enumerate(ends)
    }
    by_kind: Any = PhaseRun.objects.filter(program__in=programs).order_by().values("kind").annotate(**in_phase)
    by_level: Any = ItemRun.objects.filter(program__in=programs).order_by("level").values("level").annotate(**at_level)
    numbers = range(len(ends))
    return (
        [MonthRow(row["kind"], tuple(row[f"at{place}"] for place in numbers)) for row in by_kind],
        [MonthRow(str(row["level"]), tuple(row[f"at{place}"] for place in numbers)) for row in by_level],
    )


def since_taper(user: User, clinician: Staff | None = None) -> list[Followed]:
    """How far each open program's client kept going from the first day of their first taper on; one query."""
    first = PhaseRun.objects.filter(program=OuterRef("program"), kind="taper").order_by("number").values("number")[:1]
    rows = PhaseRun.objects.filter(
        program__in=caseload_programs(user, clinician), kind="taper", kept__gt=0
    ).annotate(of_first=Subquery(first)).filter(number=F("of_first"))
    return [Followed(day, lapsed) for day, lapsed in rows.order_by().values_list("kept", "lapsed")]


def reached(user: User, clinician: Staff | None = None) -> tuple[int, int]:
    """(open programs that have begun a taper, of them those that came to maintenance); one query."""
    rows = PhaseRun.objects.filter(program__in=caseload_programs(user, clinician)).order_by()
    found = rows.aggregate(
        tapered=Count("program", filter=Q(kind="taper"), distinct=True),
        arrived=Count("program", filter=Q(kind="maintenance", number__gt=0), distinct=True),
    )
    return found["tapered"], min(found["arrived"], found["tapered"])
