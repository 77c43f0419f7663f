"""Write reported sessions down, without the fold. Part of a larger action's transaction."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID, uuid5

from django.db import IntegrityError

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.following.models import ItemLog, Note, SessionLog
from programs.following.queries import Shown, today_of
from programs.following.rules.entry import SessionEntry, day_problem, problems
from programs.following.vocab import LogSource
from programs.prescribing.models import Program
from programs.prescribing.queries import levels_beside
from programs.prescribing.vocab import ProgramStatus


@dataclass(frozen=True, slots=True)
class LogOutcome:
    """What became of one entry: `stored`, `edited`, `already` there, or `refused` with a code and a sentence."""

    log_id: str
    result: str
    older_plan: bool = False
    code: str = ""
    sentence: str = ""
    fields: dict[str, str] = field(default_factory=dict)
    days: frozenset[date] = frozenset()     # that it and its other edits are on


@dataclass(frozen=True, slots=True)
class Known:
    """An edit that is there already."""

    program: int
    older_plan: bool
    day: date


@dataclass(frozen=True, slots=True)
class Judged:
    """An entry that can be written down: for which revision, and whether a newer one was in force that day."""

    entry: SessionEntry
    revision: int
    outcome: LogOutcome


Edits = dict[UUID, dict[int, Known]]   # by log id and edit


def edits_of(log_ids: Iterable[UUID]) -> Edits:
    """What is there of these sessions; one query."""
    found: Edits = {log_id: {} for log_id in log_ids}
    rows = SessionLog.objects.filter(log_id__in=list(found)).order_by()
    for log_id, edit, program, older, day in rows.values_list("log_id", "edit", "program_id", "older_plan", "day"):
        found[log_id][edit] = Known(program, older, day)
    return found


def store_entry(
    *, by: User, program: Program, shown: dict[UUID, Shown], entry: SessionEntry, now: datetime, source: str
) -> LogOutcome:
    """One row per log id and edit; `shown` is what the program's sessions may answer. Refusals: see `judge`."""
    judged = judge(program, shown, entry, edits_of([entry.log_id]), now, source)
    if isinstance(judged, LogOutcome):
        return judged
    try:
        write(by, program, [judged], now, source)
    except IntegrityError as error:   # another program took the number at this very moment; the caller rolls back
        raise _taken() from error
    return judged.outcome


def judge(
    program: Program, shown: dict[UUID, Shown], entry: SessionEntry, edits: Edits, now: datetime, source: str
) -> Judged | LogOutcome:
    """What will become of an entry, beside what is there already; the outcome alone when nothing is to be written.

    Refusal: `invalid`, `clock_ahead`, `before_start`, `unknown_revision`, `unknown_item`, `level_not_allowed` (400),
    `not_given`, `after_end`, `log_id_taken` (409).
    """
    known = edits[entry.log_id]
    if any(row.program != program.pk for row in known.values()):
        raise _taken()
    if entry.edit in known:
        return LogOutcome(str(entry.log_id), "already", known[entry.edit].older_plan)
    _refuse_unusable(program, entry, now, source)
    revision = shown.get(entry.revision)
    if revision is None:
        raise Refusal(
            "unknown_revision", "This session answers a program version that we do not know.", status=400,
            fields={"revision": "There is no such version of this program."},
        )
    for index, item in enumerate(entry.items):
        if item.item_key not in revision.keys:
            sentence = f"The exercise {item.item_key} was not part of the version that was shown."
            raise Refusal("unknown_item", sentence, status=400, fields={f"items.{index}.item_key": sentence})
    _refuse_other_levels(revision, entry)
    in_force = max((other.number for other in shown.values() if other.effective_from <= entry.day), default=0)
    older = in_force > revision.number
    days = frozenset([entry.day, *(row.day for row in known.values())])
    return Judged(entry, revision.pk, LogOutcome(
        str(entry.log_id), "edited" if entry.edit else "stored", older, days=days
    ))


def _refuse_other_levels(revision: Shown, entry: SessionEntry) -> None:
    """A level beside the prescribed one counts only where the version that was shown left the choice."""
    if all(item.level is None for item in entry.items):
        return
    known = {item.key: {item.level} for item in revision.items}
    for key, levels in levels_beside(revision.items).items():
        known[key] |= {level.number for level in levels}
    sentence = "This level was not one of those to choose from."
    wrong = {
        f"items.{index}.level": sentence
        for index, item in enumerate(entry.items) if item.level not in {None, *known.get(item.item_key, ())}
    }
    if wrong:
        raise Refusal("level_not_allowed", sentence, status=400, fields=wrong)


def _refuse_unusable(program: Program, entry: SessionEntry, now: datetime, source: str) -> None:
    wrong = problems(entry)
    if source not in LogSource.values:
        wrong["source"] = f"{source!r} is not a way that logs come in."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    if program.status == ProgramStatus.DRAFT:
        raise Refusal("not_given", "This program has not been given yet.")
    today = today_of(program, now)
    code = day_problem(entry.day, starts=program.starts, ended=program.ended, today=today)
    if code:
        sentence = _day_sentence(code, entry.day, program, today)
        raise Refusal(code, sentence, status=409 if code == "after_end" else 400, fields={"day": sentence})


def _day_sentence(code: str, day: date, program: Program, today: date) -> str:
    if code == "clock_ahead":
        return f"The session is dated {_said(day)}, but today is {_said(today)}. Check the date on the phone."
    if code == "before_start":
        return f"The session is dated {_said(day)}, but the program starts on {_said(program.starts)}."
    return f"The session is dated {_said(day)}, but the program ended on {_said(program.ended or day)}."


def _said(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _taken() -> Refusal:
    return Refusal("log_id_taken", "This session's number belongs to another session.", fields={"log_id": "It is taken."})


def write(by: User, program: Program, judged: Sequence[Judged], now: datetime, source: str) -> None:
    """Write entries down, in their order: three statements however many. IntegrityError when a number was just taken."""
    write_all(by, [(program, each) for each in judged], now, source)


def write_all(by: User, judged: Sequence[tuple[Program, Judged]], now: datetime, source: str) -> None:
    """The same for entries of several programs, which come with their clients."""
    logs = SessionLog.objects.bulk_create(
        SessionLog(
            log_id=entry.log_id, edit=entry.edit, program=program, revision_id=each.revision,
            older_plan=each.outcome.older_plan, day=entry.day, started=entry.started, received=now, source=source, by=by,
            pain_before=entry.pain_before, pain_during=entry.pain_during, effort=entry.effort, rating=entry.rating,
            words=entry.words,
        )
        for program, each in judged for entry in [each.entry]
    )
    if source == LogSource.PORTAL:
        for log in logs:
            if log.words.strip():
                _words_are_a_note(by, log, now)
    ItemLog.objects.bulk_create(
        ItemLog(
            log=log, item_key=item.item_key, done_left=item.done_left, done_right=item.done_right,
            reps_last_set=item.reps_last_set, rating=item.rating, skipped=item.skipped,
            level=item.level,
        )
        for log, (_, each) in zip(logs, judged, strict=True) for item in each.entry.items
    )
    audit.record_all(
        audit.event(
            by=by, verb="log_session", kind="session_log", public_id=each.entry.log_id, at=now, client=program.client,
            edit=each.entry.edit, source=source,
        )
        for program, each in judged
    )


def _words_are_a_note(by: User, log: SessionLog, now: datetime) -> None:
    """What the client wrote with a session waits to be read and can be answered; an edit that left it alone says it once."""
    said = Note.objects.filter(log__log_id=log.log_id, from_client=True, text="").select_related("log")
    if all(note.words != log.words for note in said):
        Note.objects.create(
            note_id=uuid5(log.log_id, f"words/{log.edit}"), program=log.program, log=log, from_client=True, text="", at=now,
            by=by,
        )
