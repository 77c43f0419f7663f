"""Doors and reads of following. Logs, suggestions and states are clinical: the front desk sees none of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Case, F, Prefetch, Q, QuerySet, When

from clinic.people import looking
from clinic.people.models import Client, Staff, User
from clinic.people.queries import clients_for
from clinic.people.refusal import NotThere
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.following import rule_words
from programs.following.models import (
    Alert,
    DayRecord,
    ItemLog,
    MorningAnswer,
    ProgramState,
    RuleSet,
    SessionLog,
    Suggestion,
)
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan
from programs.following.rules.entry import ItemEntry
from programs.following.rules.fold import FoldedDay
from programs.following.vocab import DayState, SuggestionKind, SuggestionState
from programs.prescribing.models import Item, Program
from programs.prescribing.queries import OPEN, pauses_of, plans_of, programs_for
from programs.prescribing.rules.plan import ItemPlan, Plan
from programs.prescribing.rules.ribbon import RibbonDay
from programs.prescribing.rules.timeline import asked_ribbon, timeline
from programs.prescribing.versions import Version
from programs.prescribing.vocab import ProgramStatus

CLINICAL = (Role.CLINICIAN, Role.LEAD)
URGENT = (
    SuggestionKind.PAUSE_AND_REFER, SuggestionKind.CONTACT, SuggestionKind.REGRESS, SuggestionKind.REASSESS,
)
TWO_WEEKS = timedelta(days=13)   # of day records beside the logs: today and the thirteen days before


# --- what a person may see -----------------------------------------------------------------------------------------
def suggestions_for(user: User) -> QuerySet[Suggestion]:
    """Suggestions for the programs of a clinician's or lead's clients, the newest first; nobody else sees any."""
    if user.role not in CLINICAL:
        return Suggestion.objects.none()
    return (
        Suggestion.objects.filter(program__in=programs_for(user))
        .select_related("program__client", "program__episode", "revision", "decided_by__staff", "resulting_revision")
        .order_by("-made", "-pk")
    )


def open_suggestions(user: User) -> QuerySet[Suggestion]:
    """Those that wait for a decision: stopping first, then calling, easing and looking again, then the rest, newest first."""
    urgency = Case(*(When(kind=kind, then=place) for place, kind in enumerate(URGENT)), default=len(URGENT))
    return suggestions_for(user).filter(state=SuggestionState.OPEN).order_by(urgency, "-made", "-pk")


def suggestion_for(user: User, public_id: UUID | str) -> Suggestion:
    """One suggestion the user may see."""
    suggestion = suggestions_for(user).filter(public_id=public_id).first()
    if suggestion is None:
        raise NotThere
    looking.note(user, suggestion.program.client_id)
    return suggestion


def alerts_for(user: User) -> QuerySet[Alert]:
    """Red-flag answers of the clients that staff may see, open ones first.

    Which answer it was, and the closing note, are for clinicians and leads: screens and API leave both out for the desk.
    """
    if user.role not in (Role.FRONT_DESK, *CLINICAL):
        return Alert.objects.none()
    return (
        Alert.objects.filter(client__in=clients_for(user))
        .select_related("client__site", "program", "closed_by__staff")
        .order_by(F("closed_at").desc(nulls_first=True), "-at", "-pk")
    )


def alert_for(user: User, public_id: UUID | str) -> Alert:
    """One red-flag answer the user may see."""
    alert = alerts_for(user).filter(public_id=public_id).first()
    if alert is None:
        raise NotThere
    looking.note(user, alert.client_id)
    return alert


def logs_of(user: User, program: Program) -> QuerySet[SessionLog]:
    """Every report of a program's sessions with its items, the newest day first; edits that were replaced are included."""
    if user.role not in (*CLINICAL, Role.CLIENT, Role.SYSTEM):
        return SessionLog.objects.none()
    return (
        SessionLog.objects.filter(program=program, program__in=programs_for(user))
        .select_related("revision", "by__staff")
        .prefetch_related(Prefetch("items", ItemLog.objects.order_by("pk")))
        .order_by("-day", "-started", "log_id", "-edit")
    )


# --- read models, for whoever already came through a door ----------------------------------------------------------
def days_of(program_pks: Iterable[int], first: date, last: date) -> dict[int, list[DayRecord]]:
    """Day records from `first` to `last` by program, oldest first; one query."""
    found: dict[int, list[DayRecord]] = {pk: [] for pk in program_pks}
    for row in DayRecord.objects.filter(program__in=list(found), day__gte=first, day__lte=last).order_by("program", "day"):
        found[row.program_id].append(row)
    return found


def states_of(program_pks: Iterable[int]) -> dict[int, ProgramState]:
    """The state of each program that has one; one query."""
    return {row.program_id: row for row in ProgramState.objects.filter(program__in=list(program_pks))}


def ribbon_of(program: Program, first: date, last: date, today: date) -> list[RibbonDay]:
    """The ribbon's days from `first` to `last`: what was asked and done until today, what is asked after it."""
    past = days_of([program.pk], first, min(last, today))[program.pk]
    plans = [(revision.effective_from, plan) for revision, plan in plans_of(program)]
    pauses = [(pause.first, pause.until) for pause in pauses_of(program)]
    return ribbon_from(program, past, plans, pauses, first, last, today)


def ribbon_from(
    program: Program, records: Iterable[DayRecord | FoldedDay], plans: Sequence[tuple[date, Plan]],
    pauses: Sequence[tuple[date, date | None]], first: date, last: date, today: date,
) -> list[RibbonDay]:
    """The ribbon's days from what was already read: day records until today, then what is asked."""
    past = [_ribbon_day(row, today) for row in records]
    start = max(past[-1].day + timedelta(days=1) if past else first, program.starts)
    end = min(last, program.ended) if program.ended else last
    if start > end or program.status not in (*OPEN, ProgramStatus.DRAFT):
        return past
    return past + asked_ribbon(timeline(plans, pauses, start, end), today)


def _ribbon_day(row: DayRecord | FoldedDay, today: date) -> RibbonDay:
    is_today = row.day == today
    if row.state != DayState.PRESCRIBED:
        return RibbonDay(row.day, "paused" if row.state == DayState.PAUSED else "rest", today=is_today)
    silent = not row.logged and row.day < today
    return RibbonDay(
        row.day, "silent" if silent else "session", row.prescribed_minimum, row.prescribed_full,
        row.done_seconds if row.logged else None, is_today,
    )


# --- what the fold and the rules read ------------------------------------------------------------------------------
def today_of(program: Program, now: datetime) -> date:
    """The program's day: the calendar day in the client's zone."""
    return zones.day_in(now, program.client.zone)


def course_of(program: Program) -> Course:
    """Everything a program's state is worked out from; a fixed number of queries."""
    plans = plans_of(program)
    numbers = {revision.pk: revision.number for revision, _ in plans}
    return Course(
        starts=program.starts,
        ended=program.ended,
        plans=tuple(EffectivePlan(revision.number, revision.effective_from, plan) for revision, plan in plans),
        pauses=tuple(PauseSpan(pause.first, pause.until) for pause in pauses_of(program)),
        sessions=tuple(_sessions(program, numbers)),
        mornings=tuple(
            Morning(day, pain, pk)
            for pk, day, pain in MorningAnswer.objects.filter(program=program).values_list("pk", "day", "pain")
        ),
        open_alerts=Alert.objects.filter(client=program.client_id, closed_at__isnull=True).count(),
    )


def _sessions(program: Program, numbers: dict[int, int]) -> list[LoggedSession]:
    items: dict[int, list[ItemEntry]] = defaultdict(list)
    rows = ItemLog.objects.filter(log__program=program).order_by("pk").values_list(
        "log_id", "item_key", "done_left", "done_right", "reps_last_set", "rating", "skipped", "level"
    )
    for log, key, left, right, reps, rating, skipped, level in rows:
        items[log].append(ItemEntry(key, left, right, reps, rating, skipped, level))
    return [
        LoggedSession(
            row.log_id, row.edit, row.day, numbers[row.revision_id], row.pain_before, row.pain_during, row.effort,
            row.rating, tuple(items[row.pk]), row.started,
        )
        for row in SessionLog.objects.filter(program=program)
    ]


@dataclass(frozen=True, slots=True)
class Shown:
    """A revision that a session may answer: what was once asked stays a thing that can be answered."""

    pk: int
    number: int
    effective_from: date
    keys: frozenset[UUID]         # of its items and of those before it
    items: tuple[ItemPlan, ...]   # its own


def shown_of(plans: Iterable[tuple[Version, Plan]]) -> dict[UUID, Shown]:
    """The revisions of a program by public id, oldest first; no query."""
    found, so_far = {}, frozenset[UUID]()
    for revision, plan in plans:
        so_far |= {item.key for item in plan.items}
        found[revision.public_id] = Shown(revision.pk, revision.number, revision.effective_from, so_far, plan.items)
    return found


def item_names(program_pks: Iterable[int]) -> dict[UUID, str]:
    """The exercise's name behind each item key, from the newest revision that holds it."""
    rows = Item.objects.filter(revision__program__in=list(program_pks)).order_by("revision__number")
    return dict(rows.values_list("key", "exercise__name"))


def newest_rule_set() -> RuleSet | None:
    """The rule set that counts."""
    return RuleSet.objects.order_by("-version").first()


def rule_sets() -> QuerySet[RuleSet]:
    """Every version of the rule set with its author, the newest first."""
    return RuleSet.objects.select_related("author__staff").order_by("-version")


def with_changes(rows: Sequence[RuleSet]) -> list[tuple[RuleSet, list[str]]]:
    """Each version beside what it changed from the one before, in words; one query."""
    numbers = {row.version for row in rows}
    before = RuleSet.objects.filter(version__in={number - 1 for number in numbers} - numbers)
    known = {row.version: row.thresholds for row in (*rows, *before)}
    return [(row, rule_words.changes(known.get(row.version - 1), row.thresholds)) for row in rows]


def programs_behind(now: datetime) -> list[int]:
    """Open programs whose state is not of today in their client's zone, or was worked out with an older rule set."""
    names = Program.objects.filter(status__in=OPEN).order_by().values_list("client__zone", flat=True).distinct()
    newest, behind = newest_rule_set(), Q(pk__in=[])
    version = newest.version if newest else 0
    for name in names:
        current = ProgramState.objects.filter(as_of=zones.day_in(now, name), rules=version).values("program")
        behind |= Q(client__zone=name) & ~Q(pk__in=current)
    return list(Program.objects.filter(behind, status__in=OPEN).order_by("pk").values_list("pk", flat=True))


def open_programs_of(client: Client) -> QuerySet[Program]:
    """Programs that are followed or paused, the newest first."""
    return Program.objects.filter(client=client, status__in=OPEN).select_related("client__site", "clinician__user")


def told_of_alerts(client: Client) -> list[Staff]:
    """Who hears of a red-flag answer: the site's front desk and the clinicians of the client's open programs and episodes."""
    desk = Q(sites=client.site_id, user__role=Role.FRONT_DESK)
    clinicians = Q(programs__client=client, programs__status__in=OPEN) | Q(
        episodes__client=client, episodes__status="active"
    )
    rows = Staff.objects.filter(desk | clinicians, user__is_active=True).select_related("user").order_by("pk")
    return list(rows.distinct())


def open_alerts() -> int:
    """How many alerts of the whole installation wait for a clinician; for monitoring, of nobody in particular."""
    return Alert.objects.filter(closed_at__isnull=True).count()


def alert_named(public_id: str) -> Alert | None:
    """An alert, for the outbox's check at send time."""
    return Alert.objects.filter(public_id=public_id).first()


def state_named(public_id: str) -> ProgramState | None:
    """The state of the program with that id, for the outbox's check at send time."""
    return ProgramState.objects.filter(program__public_id=public_id).select_related("program").first()
