"""The sheet of home logs: what a client wrote down of a session before there was a portal."""

from __future__ import annotations

import re
from collections.abc import Hashable

from clinic.people.importing import fields
from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.faults import Fault
from clinic.people.importing.sheet import Context, Field, Reading, Row, Saved, Sheet, register
from programs.following.actions.follow_programs import follow_programs
from programs.following.rules.amounts import Amount, read_amount
from programs.following.sheet_lots import LOGGED, save_many
from programs.following.sheet_rows import plain
from programs.following.vocab import Rating

_DONE = {
    "yes": "yes", "y": "yes", "all": "yes", "done": "yes", "full": "yes", "1": "yes", "x": "yes", "si": "yes",
    "half": "half", "some": "half", "partly": "half", "part": "half", "no": "no", "n": "no", "none": "no", "0": "no",
}
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
            pairs.append((plain(name), read_amount(amount)))
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
    answer = save_many([row], context)[0]
    if isinstance(answer, Exception):
        raise answer
    return answer


def _finish(context: Context) -> None:
    """Every program that a row was of is brought up to date once, not once a row."""
    follow_programs(programs=context.memo.pop(LOGGED, set()), now=context.now)


LOGS = Sheet(
    code="logs", label="Home logs", fields=FIELDS, after=("clients", "programs"), key=_key, save=_save,
    save_many=save_many, finish=_finish, requires=(fields.CLIENT_KNOWN_BY, ("day",), ("done", "items", "minutes")),
    mends={
        "clock_ahead": "Correct the date: a session cannot lie in the future.",
        "before_start": "Correct the date, or the start of the program.",
        "after_end": "Correct the date, or the end of the program.",
        "log_id_taken": "Give each log a number of its own.",
    },
)
register(LOGS)
