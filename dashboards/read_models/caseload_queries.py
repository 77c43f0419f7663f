"""The queries behind the caseload, each put into SQL once."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, QuerySet, Subquery, TextField
from django.db.models.functions import Cast, Coalesce

from clinic.booking.models import Appointment
from clinic.booking.queries import UPCOMING
from clinic.people.models import Episode, Staff, User
from clinic.people.prepared import DAY, KEYS, MOMENT, READER
from clinic.people.vocab import Role
from clinic.visits.models import Reassessment
from clinic.visits.queries import STANDS
from clinic.visits.vocab import ReassessmentStatus
from dashboards.read_models.people import caseload_programs, unprogrammed_episodes
from dashboards.read_models.planned import Planned
from programs.following.models import Alert, Note, Suggestion
from programs.following.vocab import SuggestionState
from programs.prescribing.models import Item, Program

STATE = (
    "band", "phase_kind", "adherence_7", "adherence_all", "sessions_done", "sessions_prescribed", "interval_low",
    "interval_high", "silent_days", "last_logged", "pain_last", "pain_slope", "attention",
)
CLIENT = ("client_id", "client__given_name", "client__family_name", "client__public_id", "client__site__zone", "client__zone")
OF_EPISODE = ("pk", "who", "what", "episode_key", "flagged", *CLIENT)
OF_PROGRAM = (
    *OF_EPISODE, "public_id", "title", "status", "starts", "because", "drawn", "drawn_of",
    *(f"state__{name}" for name in STATE),
)


def entries(user: User, today: date, clinician: Staff | None = None) -> QuerySet[Program, Any]:
    """Each open program with what puts it into its place; `late` is the due day of a reassessment that is overdue."""
    waiting = Exists(Suggestion.objects.filter(program=OuterRef("pk"), state=SuggestionState.OPEN))
    return (
        caseload_programs(user, clinician)
        .annotate(waiting=waiting, because=Cast("state__reasons", TextField()))
        .annotate(late=_late("episode", today), unread=_unread())
        .order_by(F("state__attention").desc(nulls_last=True), "client__family_name", "client__given_name", "pk")
        .values_list("pk", "episode_id", "state__attention", "state__band", "because", "waiting", "late", "unread")
    )


def bare(user: User, today: date, clinician: Staff | None = None) -> QuerySet[Episode, Any]:
    """Each episode without a program, and the day since which its reassessment is late."""
    return unprogrammed_episodes(user, clinician).annotate(late=_late("pk", today)).values_list("pk", "late")


def _unread() -> Coalesce:
    """How many notes of the client nobody has read."""
    rows = Note.objects.filter(program=OuterRef("pk"), from_client=True, read__isnull=True).order_by().values("program")
    return Coalesce(Subquery(rows.annotate(count=Count("pk")).values("count")), 0)


def _late(episode: str, today: date) -> Subquery:
    """The due day of the episode's reassessment that is overdue the longest and not booked."""
    rows = Reassessment.objects.filter(
        episode=OuterRef(episode), status=ReassessmentStatus.OPEN, appointment__isnull=True, due__lt=today
    )
    return Subquery(rows.order_by("due").values("due")[:1])


def _alerts() -> Coalesce:
    """How many red-flag answers of a row's client are open."""
    rows = Alert.objects.filter(client=OuterRef("client"), closed_at__isnull=True).order_by().values("client")
    return Coalesce(Subquery(rows.annotate(count=Count("pk")).values("count")), 0)


def _of_programs() -> QuerySet[Program, Any]:
    return Program.objects.filter(pk__in=KEYS).order_by().annotate(
        who=F("clinician__name"), what=F("episode__complaint"), episode_key=F("episode__public_id"), flagged=_alerts(),
        because=Cast("state__reasons", TextField()), drawn=F("ribbon_row__days"), drawn_of=F("ribbon_row__as_of"),
    ).values_list(*OF_PROGRAM)


def _of_episodes() -> QuerySet[Episode, Any]:
    rows = Episode.objects.filter(pk__in=KEYS).order_by()
    rows = rows.annotate(who=F("lead__name"), what=F("complaint"), episode_key=F("public_id"), flagged=_alerts())
    return rows.values_list(*OF_EPISODE)


def _of_suggestions() -> QuerySet[Suggestion, Any]:
    named = Item.objects.filter(revision__program=OuterRef("program"), key=OuterRef("item_key"))
    rows = Suggestion.objects.filter(program__in=KEYS, state=SuggestionState.OPEN).annotate(
        exercise=Subquery(named.order_by("-revision__number").values("exercise__name")[:1])
    )
    return rows.order_by("-made", "-pk").values_list(
        "program_id", "public_id", "kind", "item_key", "exercise", "evidence__change"
    )


def _of_looks() -> QuerySet[Reassessment, Any]:
    rows = Reassessment.objects.filter(episode__in=KEYS, status=ReassessmentStatus.OPEN).order_by("due", "pk")
    return rows.values_list("episode_id", *STANDS)


def _of_visits() -> QuerySet[Appointment, Any]:
    rows = Appointment.objects.filter(client__in=KEYS, status__in=UPCOMING, starts__gte=MOMENT).order_by("starts", "pk")
    return rows.values_list("client_id", "public_id", "starts", "site__zone", "visit_type__name", "clinician__name")


ANYBODY = User(pk=READER, role=Role.CLINICIAN, is_active=True)
ENTRIES = Planned(lambda _: entries(ANYBODY, DAY))
BARE = Planned(lambda _: bare(ANYBODY, DAY))
PROGRAMS, EPISODES = Planned(lambda _: _of_programs()), Planned(lambda _: _of_episodes())
SUGGESTIONS, LOOKS = Planned(lambda _: _of_suggestions()), Planned(lambda _: _of_looks())
VISITS = Planned(lambda _: _of_visits())
