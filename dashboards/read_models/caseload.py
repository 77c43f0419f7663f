"""The caseload: who needs a person first, and everything that helps to say why.

Rows are read as plain values in queries that were put into SQL before (caseload_queries).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from types import SimpleNamespace
from typing import Any

from clinic.people.models import Staff, User
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits.queries import ReassessmentRow, standing_of
from dashboards.read_models import caseload_queries as sql
from dashboards.read_models.caseload_rows import CaseloadRow, Entry, NextVisit, Standing, Waiting
from programs.following.ribbons import AFTER, BEFORE, ribbon_json, ribbons_of
from programs.following.rules.attention import LOW, with_look
from programs.following.vocab import Band
from programs.following.words import proposal_words
from programs.prescribing.models import Program

FILTERS = ("all", "person", "silent", "pain", "suggestion", "notes", "overdue")
PAINFUL = ("pain", "pain_rising")


def caseload(user: User, today: date, clinician: Staff | None = None) -> list[Entry]:
    """Every line in attention order: largest first, then by client's name; episodes without a program last.

    `today` is the day of the user's site. Two queries, however many lines.
    """
    if user.role == Role.CLINICIAN and user.is_active:
        rows = sql.ENTRIES.rows(reader=user.pk, day=today)
        bare = sql.BARE.rows(reader=user.pk, day=today)
    else:
        rows, bare = list(sql.entries(user, today, clinician)), list(sql.bare(user, today, clinician))
    lines: list[tuple[int, Entry]] = []
    for pk, episode, attention, band, because, is_waiting, due, unread in rows:
        late = (today - due).days if due else 0
        points = with_look(attention or 0, (), late)[0]
        flags = _flags(points, band, because or "", is_waiting, late > 0, unread > 0)
        lines.append((points, Entry(pk, episode, flags, late, unread)))
    lines.sort(key=lambda line: -line[0])   # stable: equal points stay as they came
    return [entry for _, entry in lines] + [
        Entry(None, pk, _flags(0, None, "", False, due is not None), (today - due).days if due else 0) for pk, due in bare
    ]


def _flags(
    attention: int, band: str | None, because: str, waiting: bool, overdue: bool, notes: bool = False
) -> frozenset[str]:
    found = {"all"}
    if attention >= LOW:
        found.add("person")
    if band == Band.SILENT:
        found.add("silent")
    if any(f'"code": "{code}"' in because for code in PAINFUL):
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
    """The lines filled in, in the order given. `ribbons` False leaves them empty.

    Four queries for each 25 lines, one more where there are episodes without a program. Ribbons are read as they are
    stored; those that are not of today are drawn anew (five queries more, however many).
    """
    programs, episodes = _programs(entries), _episodes(entries)
    drawn = _drawn(programs, now) if ribbons else {}
    clients = {row["client_id"] for row in (*programs.values(), *episodes.values())}
    waiting = _waiting(programs)
    looks = _looks(entries, today)
    visits = _visits(clients, now)
    found = []
    for entry in entries:
        owner = programs[entry.program] if entry.program else episodes[entry.episode]
        own = entry.program is not None
        found.append(CaseloadRow(
            client=f"{owner['client__given_name']} {owner['client__family_name']}".strip(),
            client_id=owner["client__public_id"], clinician=owner["who"], complaint=owner["what"],
            episode_id=owner["episode_key"], program=owner["title"] if own else "",
            program_id=owner["public_id"] if own else None, status=owner["status"] if own else "",
            starts=owner["starts"] if own else None, drawn=drawn.get(entry.program or 0, ""),
            standing=_standing(owner, entry.overdue) if own else None,
            suggestions=tuple(waiting[entry.program]) if entry.program else (), reassessment=looks.get(entry.episode),
            zone=owner["client__site__zone"], visit=visits.get(owner["client_id"]), open_alerts=owner["flagged"],
            unread=entry.unread,
        ))
    return found


def _programs(entries: Sequence[Entry]) -> dict[int, dict[str, Any]]:
    rows = sql.PROGRAMS.rows(keys=[entry.program for entry in entries if entry.program])
    return {row[0]: dict(zip(sql.OF_PROGRAM, row, strict=True)) for row in rows}


def _episodes(entries: Sequence[Entry]) -> dict[int, dict[str, Any]]:
    rows = sql.EPISODES.rows(keys=[entry.episode for entry in entries if not entry.program])
    return {row[0]: dict(zip(sql.OF_EPISODE, row, strict=True)) for row in rows}


def _standing(row: dict[str, Any], overdue: int) -> Standing | None:
    if row["state__band"] is None:
        return None
    values: list[Any] = [*(row[f"state__{name}"] for name in sql.STATE), row["because"], overdue]
    return Standing(*values)


def _drawn(programs: dict[int, dict[str, Any]], now: datetime) -> dict[int, str]:
    """Each program's ribbon as text."""
    todays = {zone: zones.day_in(now, zone) for zone in {row["client__zone"] for row in programs.values()}}
    stale = [key for key, row in programs.items() if row["drawn_of"] != todays[row["client__zone"]]]
    found = {key: row["drawn"] for key, row in programs.items() if key not in set(stale)}
    if stale:
        rows = list(Program.objects.filter(pk__in=stale).select_related("client"))
        for key, days in ribbons_of(rows, before=BEFORE, after=AFTER, now=now).items():
            found[key] = ribbon_json(days)
    return found


def _waiting(programs: Iterable[int]) -> dict[int, list[Waiting]]:
    """Open suggestions by program, the newest first."""
    found: dict[int, list[Waiting]] = defaultdict(list)
    for program, public_id, kind, item, exercise, change in sql.SUGGESTIONS.rows(keys=list(programs)):
        row = SimpleNamespace(kind=kind, item_key=item, evidence={"change": change})
        found[program].append(Waiting(public_id, kind, proposal_words(row, {item: exercise} if item and exercise else {})))
    return found


def _looks(entries: Sequence[Entry], today: date) -> dict[int, ReassessmentRow]:
    """The open reassessment that is due first, for each episode that has one."""
    found: dict[int, ReassessmentRow] = {}
    for episode, *values in sql.LOOKS.rows(keys=[entry.episode for entry in entries]):
        if episode not in found:
            found[episode] = standing_of(values, today)
    return found


def _visits(clients: Iterable[int], now: datetime) -> dict[int, NextVisit]:
    """The next visit in the book of each client."""
    found: dict[int, NextVisit] = {}
    for client, *values in sql.VISITS.rows(keys=list(clients), moment=now):
        found.setdefault(client, NextVisit(*values))
    return found
