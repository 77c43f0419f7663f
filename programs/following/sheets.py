"""The sheet of home logs: what a client wrote down of a session before there was a portal."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterable
from datetime import date
from uuid import UUID

from django.db.models import Q

from clinic.people.importing import fields
from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.faults import Fault
from clinic.people.importing.keys import derived_id
from clinic.people.importing.lookups import client_of
from clinic.people.importing.sheet import Context, Field, Reading, Row, Saved, Sheet, register
from clinic.people.models import Client
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.log_imported import log_imported
from programs.following.models import SessionLog
from programs.following.rules.amounts import Amount, read_amount, seconds_of, shares_of
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.following.vocab import Rating
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import plan_of, revision_on
from programs.prescribing.rules.plan import ItemPlan

_DONE = {
    "yes": "yes", "y": "yes", "all": "yes", "done": "yes", "full": "yes", "1": "yes", "x": "yes", "si": "yes",
    "half": "half", "some": "half", "partly": "half", "part": "half", "no": "no", "n": "no", "none": "no", "0": "no",
}
_SHARE = {"yes": 1.0, "half": 0.5, "no": 0.0}
_FELT = {"too easy": "too_easy", "easy": "too_easy", "about right": "about_right", "right": "about_right",
         "ok": "about_right", "too hard": "too_hard", "hard": "too_hard"} | {code: code for code in Rating.values}


def _amounts(cell: Cell, _: Reading) -> tuple[tuple[str, Amount], ...]:
    pairs = []
    for part in re.split(r"[|;\n]", as_text(cell)):
        name, colon, amount = part.partition(":")
        if not part.strip():
            continue
        try:
            if not colon:
                raise ValueError("there is no colon between the exercise and what was done")
            pairs.append((_plain(name), read_amount(amount)))
        except ValueError as error:
            raise Fault(
                "not_an_amount", f"“{name.strip()[:40]}”: {error}.",
                "Write it like clamshell: yes | side plank: 20 s | roll-glute: 40/35 s.",
            ) from None
    return tuple(pairs)


FIELDS = (
    *fields.CLIENT,
    fields.text("program_ref", "Program number", "program id", "program", most=64),
    fields.text("log_ref", "Log number", "log id", "entry id", "ref", most=64),
    fields.day("day", "Day", "date", "session date", "done on", needed=True),
    fields.whole("session", "Session", "session no", "session of the day", least=1, most=6),
    fields.choice("done", "Done", _DONE, "completed", "did it"),
    Field("items", "Exercises done", ("exercises", "items"), _amounts),
    fields.number("minutes", "Minutes done", "minutes", "duration", "mins", least=0, most=600),
    fields.whole("pain_during", "Pain during", "pain", "worst pain", "pain 0 10", least=0, most=10),
    fields.whole("pain_before", "Pain before", least=0, most=10),
    fields.whole("effort", "Effort", "exertion", "rpe", least=0, most=10),
    fields.choice("rating", "Felt", _FELT, "rating", "difficulty", "how was it"),
    fields.text("words", "Words", "comment", "comments", "note", "notes", most=2000),
)


def _key(row: Row) -> Hashable | None:
    who = row.get("client_ref") or row.get("client_name")
    if row.get("log_ref"):
        return who, row["log_ref"]
    return who, row.get("program_ref"), row.get("day"), row.get("session", 1)


def _save(row: Row, context: Context) -> Saved:
    client = client_of(row, context)
    program = _program(row, client)
    revision = revision_on(program, row["day"])
    if revision is None:
        raise _no_program()
    if row.get("log_ref"):
        log_id = derived_id(client.public_id, row["log_ref"])
    else:
        log_id = derived_id(program.public_id, row["day"].isoformat(), row.get("session", 1))
    known = SessionLog.objects.filter(log_id=log_id).prefetch_related("items").order_by("edit").last()
    entry = SessionEntry(
        log_id=log_id, edit=known.edit + 1 if known else 0, revision=revision.public_id, day=row["day"],
        pain_before=row.get("pain_before", None), pain_during=row.get("pain_during", None),
        effort=row.get("effort", None), rating=row.get("rating"), words=row.get("words"), items=_items(row, revision),
    )
    if known and _same(known, entry):
        return Saved("unchanged")
    log_imported(by=context.by, program=program, entry=entry, now=context.now)
    context.memo.setdefault("logged", set()).add(program.pk)
    return Saved("updated" if known else "new")


def _finish(context: Context) -> None:
    """Every program that a row was of is brought up to date once, not once a row."""
    follow_programs(programs=context.memo.pop("logged", set()), now=context.now)


def _program(row: Row, client: Client) -> Program:
    """The client's program on that day: the one named, or the only one."""
    programs = Program.objects.filter(client=client).select_related("client__site", "episode__lead", "clinician")
    if row.get("program_ref"):
        found = programs.filter(external_ref=row["program_ref"]).first()
        if found is None:
            raise Fault("no_program", "This client has no program with that number.", "Correct it.", "program_ref")
        return found
    day: date = row["day"]
    covering = list(programs.filter(starts__lte=day).filter(Q(ended__isnull=True) | Q(ended__gte=day))[:2])
    if not covering:
        raise _no_program()
    if len(covering) > 1:
        raise Fault(
            "several_programs", "This client has more than one program on that day.", "Add the program's number.", "day"
        )
    return covering[0]


def _no_program() -> Fault:
    return Fault(
        "no_program", "This client has no program on that day.", "Correct the day, or bring in the program first.", "day"
    )


def _items(row: Row, revision: Revision) -> tuple[ItemEntry, ...]:
    """What was done of each item: as written for each, or the same share of all of them."""
    plan = plan_of(revision)
    if row.get("items"):
        names = {
            _plain(text): item.key
            for item in revision.items.all() for text in (item.exercise.slug, item.exercise.name)
        }
        by_key = {item.key: item for item in plan.items}
        return tuple(_entry(by_key[_known(name, names)], amount) for name, amount in row["items"])
    if row.get("done"):
        return tuple(_entry(item, Amount(share=_SHARE[row["done"]])) for item in plan.items)
    if "minutes" in row.values:
        return tuple(_entry(item, amount) for item, amount in shares_of(plan, row["minutes"]))
    raise Fault(
        "missing_value", "The row does not say what was done.", "Write yes, half or no, or the minutes.", "done"
    )


def _known(name: str, names: dict[str, UUID]) -> UUID:
    if name not in names:
        raise Fault(
            "unknown_exercise", f"“{name[:40]}” was not part of the program on that day.",
            f"Use one of: {', '.join(sorted(names))}.", "items",
        )
    return names[name]


def _entry(item: ItemPlan, amount: Amount) -> ItemEntry:
    left, right = seconds_of(item, amount)
    return ItemEntry(item_key=item.key, done_left=left, done_right=right)


def _same(known: SessionLog, entry: SessionEntry) -> bool:
    names = ("day", "pain_before", "pain_during", "effort", "rating", "words")
    return all(getattr(known, name) == getattr(entry, name) for name in names) and _done(known.items.all()) == _done(
        entry.items
    )


def _done(items: Iterable[object]) -> set[tuple[object, ...]]:
    return {tuple(getattr(item, name) for name in ("item_key", "done_left", "done_right")) for item in items}


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


LOGS = Sheet(
    code="logs", label="Home logs", fields=FIELDS, after=("clients", "programs"), key=_key, save=_save,
    finish=_finish, requires=(fields.CLIENT_KNOWN_BY, ("day",), ("done", "items", "minutes")),
    mends={
        "clock_ahead": "Correct the date: a session cannot lie in the future.",
        "before_start": "Correct the date, or the start of the program.",
        "after_end": "Correct the date, or the end of the program.",
        "log_id_taken": "Give each log a number of its own.",
    },
)
register(LOGS)
