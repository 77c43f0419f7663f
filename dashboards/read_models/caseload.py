"""The caseload: who needs a person first, and everything that helps to say why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import F

from clinic.booking.queries import next_visits
from clinic.people.models import Episode, Staff, User
from clinic.visits.queries import ReassessmentRow, next_reassessments, overdue_list
from dashboards.read_models.people import caseload_programs, unprogrammed_episodes
from programs.following.models import Alert, ProgramState, Suggestion
from programs.following.notes import unread_by_program
from programs.following.queries import item_names
from programs.following.ribbons import ribbons_of
from programs.following.rules.attention import LOW, with_look
from programs.following.vocab import Band, SuggestionState
from programs.following.words import proposal_words
from programs.prescribing.models import Program
from programs.prescribing.rules.ribbon import RibbonDay

BEFORE, AFTER = 28, 14          # days of ribbon: back from today, and ahead of it
FILTERS = ("all", "person", "silent", "pain", "suggestion", "notes", "overdue")
PAINFUL = {"pain", "pain_rising"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the caseload before it is filled in; `program` None is an episode without one. `flags` are of FILTERS."""

    program: int | None
    episode: int
    flags: frozenset[str]
    overdue: int = 0              # days by which its reassessment is overdue and not booked
    unread: int = 0               # notes of the client that nobody has read


@dataclass(frozen=True, slots=True)
class Waiting:
    """A suggestion that waits for a decision; `proposal` in words."""

    public_id: UUID
    kind: str
    proposal: str


@dataclass(frozen=True, slots=True)
class NextVisit:
    """The next visit in the book; `starts` UTC, shown in the site's `zone`."""

    public_id: UUID
    starts: datetime
    zone: str
    kind: str
    clinician: str


@dataclass(frozen=True, slots=True)
class Standing:
    """How a program goes: shares 0-1, None where nothing counts yet; pain 0-10, slope in points a week."""

    band: str
    phase_kind: str
    adherence_7: float | None
    adherence_all: float | None
    sessions_done: int
    sessions_prescribed: int
    low: float | None
    high: float | None
    silent_days: int
    last_logged: date | None
    pain_last: int | None
    pain_slope: float | None
    attention: int
    reasons: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class CaseloadRow:
    """One line: a program, or an episode that has none (`program_id` None, no standing, no ribbon)."""

    client: str
    client_id: UUID
    clinician: str
    complaint: str
    episode_id: UUID
    program: str
    program_id: UUID | None
    status: str
    starts: date | None
    ribbon: tuple[RibbonDay, ...]
    standing: Standing | None
    suggestions: tuple[Waiting, ...]
    reassessment: ReassessmentRow | None
    zone: str                     # of the client's site
    visit: NextVisit | None
    open_alerts: int
    unread: int                   # notes of the client that nobody has read


def caseload(user: User, today: date, clinician: Staff | None = None) -> list[Entry]:
    """Every line in attention order: largest first, then by client's name; episodes without a program last.

    `today` is the day of the user's site. Five queries, however many lines.
    """
    overdue = _overdue(user, today)
    programs = caseload_programs(user, clinician).order_by(
        F("state__attention").desc(nulls_last=True), "client__family_name", "client__given_name", "pk"
    )
    waiting = set(
        Suggestion.objects.filter(program__in=programs.order_by(), state=SuggestionState.OPEN).values_list(
            "program_id", flat=True
        )
    )
    rows = list(programs.values_list("pk", "episode_id", "state__attention", "state__band", "state__reasons"))
    notes = unread_by_program([row[0] for row in rows], from_client=True)
    lines: list[tuple[int, Entry]] = []
    for pk, episode, attention, band, reasons in rows:
        late, unread = overdue.get(episode, 0), notes.get(pk, 0)
        points, _ = with_look(attention or 0, reasons or [], late)
        flags = _flags(points, band, reasons or [], pk in waiting, late > 0, unread > 0)
        lines.append((points, Entry(pk, episode, flags, late, unread)))
    lines.sort(key=lambda line: -line[0])   # stable: equal points stay as they came
    bare = unprogrammed_episodes(user, clinician).values_list("pk", flat=True)
    return [entry for _, entry in lines] + [
        Entry(None, pk, _flags(0, None, [], False, pk in overdue), overdue.get(pk, 0)) for pk in bare
    ]


def _overdue(user: User, today: date) -> dict[int, int]:
    """Days since the due day of the reassessment that is overdue the longest, by episode."""
    rows = overdue_list(user, today, "overdue").order_by("-due").values_list("episode_id", "due")
    return {episode: (today - due).days for episode, due in rows}


def _flags(
    attention: int, band: str | None, reasons: Iterable[dict[str, Any]], waiting: bool, overdue: bool, notes: bool = False
) -> frozenset[str]:
    found = {"all"}
    if attention >= LOW:
        found.add("person")
    if band == Band.SILENT:
        found.add("silent")
    if PAINFUL & {str(reason["code"]) for reason in reasons}:
        found.add("pain")
    if waiting:
        found.add("suggestion")
    if notes:
        found.add("notes")
    if overdue:
        found.add("overdue")
    return frozenset(found)


def counts(entries: Sequence[Entry]) -> dict[str, int]:
    """How many lines each filter shows."""
    return {code: sum(code in entry.flags for entry in entries) for code in FILTERS}


def rows_of(entries: Sequence[Entry], now: datetime, today: date, *, ribbons: bool = True) -> list[CaseloadRow]:
    """The lines filled in, in the order given: a fixed number of queries however many. `ribbons` False leaves them empty."""
    programs = {
        row.pk: row
        for row in Program.objects.filter(pk__in=[entry.program for entry in entries if entry.program]).select_related(
            "client__site", "episode", "clinician", "state"
        )
    }
    bare = {
        row.pk: row
        for row in Episode.objects.filter(
            pk__in=[entry.episode for entry in entries if not entry.program]
        ).select_related("client__site", "lead")
    }
    clients = {row.client_id for row in programs.values()} | {row.client_id for row in bare.values()}
    drawn = ribbons_of(list(programs.values()) if ribbons else [], before=BEFORE, after=AFTER, now=now)
    waiting = _waiting(programs)
    looks = next_reassessments([entry.episode for entry in entries], today)
    visits = _visits(clients, now)
    alerts = _alerts(clients)
    found = []
    for entry in entries:
        owner = programs[entry.program] if entry.program else bare[entry.episode]
        parts: dict[str, Any] = {
            "reassessment": looks.get(entry.episode), "visit": visits.get(owner.client_id),
            "open_alerts": alerts.get(owner.client_id, 0), "client": owner.client.name,
            "client_id": owner.client.public_id, "zone": owner.client.site.zone, "unread": entry.unread,
        }
        if isinstance(owner, Program):
            parts |= _of_program(owner, drawn.get(owner.pk, []), waiting[owner.pk], entry.overdue)
        else:
            parts |= _of_episode(owner)
        found.append(CaseloadRow(**parts))
    return found


def _of_program(program: Program, ribbon: list[RibbonDay], waiting: list[Waiting], overdue: int) -> dict[str, Any]:
    state = getattr(program, "state", None)
    return {
        "clinician": program.clinician.name, "complaint": program.episode.complaint,
        "episode_id": program.episode.public_id, "program": program.title, "program_id": program.public_id,
        "status": program.status, "starts": program.starts, "ribbon": tuple(ribbon),
        "standing": _standing(state, overdue) if state else None, "suggestions": tuple(waiting),
    }


def _of_episode(episode: Episode) -> dict[str, Any]:
    return {
        "clinician": episode.lead.name, "complaint": episode.complaint, "episode_id": episode.public_id, "program": "",
        "program_id": None, "status": "", "starts": None, "ribbon": (), "standing": None, "suggestions": (),
    }


def _standing(state: ProgramState, overdue: int) -> Standing:
    points, reasons = with_look(state.attention, state.reasons, overdue)
    return Standing(
        state.band, state.phase_kind, state.adherence_7, state.adherence_all, state.sessions_done,
        state.sessions_prescribed, state.interval_low, state.interval_high, state.silent_days, state.last_logged,
        state.pain_last, state.pain_slope, points, reasons,
    )


def _waiting(programs: Iterable[int]) -> dict[int, list[Waiting]]:
    """Open suggestions by program, the newest first; two queries."""
    keys = list(programs)
    names = item_names(keys)
    found: dict[int, list[Waiting]] = defaultdict(list)
    rows = Suggestion.objects.filter(program__in=keys, state=SuggestionState.OPEN).order_by("-made", "-pk")
    for row in rows:
        found[row.program_id].append(Waiting(row.public_id, row.kind, proposal_words(row, names)))
    return found


def _visits(clients: Iterable[int], now: datetime) -> dict[int, NextVisit]:
    return {
        key: NextVisit(row.public_id, row.starts, row.site.zone, row.visit_type.name, row.clinician.name)
        for key, row in next_visits(clients, now).items()
    }


def _alerts(clients: Iterable[int]) -> dict[int, int]:
    """Open red-flag answers by client."""
    found: dict[int, int] = defaultdict(int)
    for key in Alert.objects.filter(client__in=list(clients), closed_at__isnull=True).values_list("client_id", flat=True):
        found[key] += 1
    return found
