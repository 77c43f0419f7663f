"""Saving rows of the sheet of home logs, many at once: a fixed number of queries a lot, however many rows it has."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Max

from clinic.people.importing.faults import Fault
from clinic.people.importing.keys import derived_id
from clinic.people.importing.lookups import clients_of
from clinic.people.importing.sheet import Context, OneByOne, Row, Saved
from clinic.people.models import Client
from programs.following.actions.log_many_imported import Arriving, log_many_imported
from programs.following.actions.store_entry import Edits, Known
from programs.following.models import SessionLog
from programs.following.queries import Shown, shown_of
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.following.sheet_rows import items_of, plain
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import plans_of_many
from programs.prescribing.rules.plan import Plan
from programs.prescribing.versions import Version

LOGGED = "logged"   # in the memo: programs that logs were written of
MOST_KNOWN = 3000   # programs whose plans are kept from one lot to the next


@dataclass(frozen=True, slots=True)
class _Version:
    number: int
    public_id: UUID
    effective_from: date
    plan: Plan
    names: Mapping[str, UUID]   # of its exercises, plain


@dataclass(frozen=True, slots=True)
class _Known:
    """The versions of a program, oldest first."""

    versions: Sequence[_Version]
    shown: dict[UUID, Shown]


@dataclass(frozen=True, slots=True)
class _Held:
    """The newest edit there is of a log."""

    edit: int
    program: int
    said: tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class _Draft:
    program: Program
    version: _Version
    log_id: UUID


def save_many(rows: Sequence[Row], context: Context) -> list[Saved | Exception]:
    """See Sheet.save_many. The programs of all clients named are locked first, in the order of their keys, as everybody does
    who locks several."""
    clients = clients_of(rows, context)
    programs = _locked({client.pk for client in clients if isinstance(client, Client)})
    known = _known([each for some in programs.values() for each in some], context)
    drafts = [
        _draft(row, client, programs, known) if isinstance(client, Client) else client
        for row, client in zip(rows, clients, strict=True)
    ]
    ids = [draft.log_id for draft in drafts if isinstance(draft, _Draft)]
    if len(set(ids)) < len(ids):
        raise OneByOne   # two rows of one log: the second is an edit of what the first leaves
    held = _held(ids)
    answers: list[Saved | Exception] = []
    arriving: list[tuple[int, Arriving]] = []
    for place, (row, draft) in enumerate(zip(rows, drafts, strict=True)):
        entry = _entry(row, draft, held) if isinstance(draft, _Draft) else draft
        if isinstance(draft, _Draft) and isinstance(entry, SessionEntry):
            arriving.append((place, Arriving(draft.program, known[draft.program.pk].shown, entry)))
            answers.append(Saved("updated" if entry.edit else "new"))
        else:
            answers.append(entry if isinstance(entry, Exception) else Saved("unchanged"))
    _write(arriving, answers, held, context)
    return answers


def _write(
    arriving: Sequence[tuple[int, Arriving]], answers: list[Saved | Exception], held: Mapping[UUID, _Held], context: Context
) -> None:
    edits: Edits = {each.entry.log_id: {} for _, each in arriving}
    for log_id in edits.keys() & held.keys():
        there = held[log_id]
        edits[log_id][there.edit] = Known(there.program, False, there.said[0])
    became = log_many_imported(by=context.by, arriving=[each for _, each in arriving], edits=edits, now=context.now)
    logged = context.memo.setdefault(LOGGED, set())
    for (place, each), refused in zip(arriving, became, strict=True):
        if refused:
            answers[place] = refused
        else:
            logged.add(each.program.pk)


def _locked(clients: set[int]) -> dict[int, list[Program]]:
    """Programs by client, locked until the transaction ends."""
    programs = Program.objects.filter(client__in=clients).order_by("pk")
    list(programs.select_for_update().values_list("pk", flat=True))
    found: dict[int, list[Program]] = defaultdict(list)
    for program in programs.select_related("client"):
        found[program.client_id].append(program)
    return found


def _known(programs: Sequence[Program], context: Context) -> dict[int, _Known]:
    """What was asked in each program; kept between lots for as long as nobody writes a newer version."""
    kept: dict[tuple[int, int], _Known] = context.memo.setdefault("plans", {})
    numbers = Revision.objects.filter(program__in=programs).order_by().values_list("program")
    newest = {program.pk: 0 for program in programs} | dict(numbers.annotate(Max("number")))
    missing = [program for program in programs if (program.pk, newest[program.pk]) not in kept]
    if missing and len(kept) + len(missing) > MOST_KNOWN:
        kept.clear()
        missing = list(programs)
    for pk, plans in plans_of_many(missing).items() if missing else ():
        kept[pk, newest[pk]] = _Known(
            [_version(*pair) for pair in plans],
            shown_of((Version(row.pk, row.number, row.public_id, row.effective_from), plan) for row, plan in plans),
        )
    return {program.pk: kept[program.pk, newest[program.pk]] for program in programs}


def _version(revision: Revision, plan: Plan) -> _Version:
    names = {
        plain(text): item.key for item in revision.items.all() for text in (item.exercise.slug, item.exercise.name)
    }
    return _Version(revision.number, revision.public_id, revision.effective_from, plan, names)


def _draft(
    row: Row, client: Client, programs: Mapping[int, Sequence[Program]], known: Mapping[int, _Known]
) -> _Draft | Fault:
    """The program on that day and what it asked: the one named, or the only one."""
    own, day = programs.get(client.pk, ()), row["day"]
    if row.get("program_ref"):
        own = [program for program in own if program.external_ref == row["program_ref"]]
        if not own:
            return Fault("no_program", "This client has no program with that number.", "Correct it.", "program_ref")
    else:
        own = [program for program in own if program.starts <= day and (program.ended is None or program.ended >= day)]
        if len(own) > 1:
            return Fault(
                "several_programs", "This client has more than one program on that day.", "Add the program's number.",
                "day",
            )
    versions = [version for each in own for version in known[each.pk].versions if version.effective_from <= day]
    if not versions:
        return Fault(
            "no_program", "This client has no program on that day.", "Correct the day, or bring in the program first.",
            "day",
        )
    program = own[0]
    if row.get("log_ref"):
        log_id = derived_id(client.public_id, row["log_ref"])
    else:
        log_id = derived_id(program.public_id, day.isoformat(), row.get("session", 1))
    return _Draft(program, versions[-1], log_id)


def _held(ids: Sequence[UUID]) -> dict[UUID, _Held]:
    rows = SessionLog.objects.filter(log_id__in=ids).prefetch_related("items").order_by("edit")
    return {
        row.log_id: _Held(row.edit, row.program_id, (
            row.day, row.pain_before, row.pain_during, row.effort, row.rating, row.words, _done(row.items.all())
        ))
        for row in rows
    }


def _entry(row: Row, draft: _Draft, held: Mapping[UUID, _Held]) -> SessionEntry | Fault | None:
    """What is to be written; None when it stands already."""
    try:
        items = items_of(row, draft.version.plan, draft.version.names)
    except Fault as fault:
        return fault
    before, pain = row.get("pain_before", None), row.get("pain_during", None)
    effort, rating, words = row.get("effort", None), row.get("rating"), row.get("words")
    edit, there = 0, held.get(draft.log_id)
    if there is not None:
        if there.said == (row["day"], before, pain, effort, rating, words, _done(items)):
            return None
        edit = there.edit + 1
    return SessionEntry(
        log_id=draft.log_id, edit=edit, revision=draft.version.public_id, day=row["day"], pain_before=before,
        pain_during=pain, effort=effort, rating=rating, words=words, items=items,
    )


def _done(items: Iterable[ItemEntry | Any]) -> set[tuple[object, ...]]:
    return {(item.item_key, item.done_left, item.done_right) for item in items}
