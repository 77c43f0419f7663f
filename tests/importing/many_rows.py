"""A sheet of home logs as long as it has to be, with known faults on known lines. Invented; what is wrong is what clinics'
sheets have: a day that is none, a pain of eleven, a client nobody knows, a quotation mark left open, a row told twice."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

HEAD = "Log ID,Client No,Date,Session,Done,Pain,Effort,Felt,Comments\n"
DONE = ("yes", "half", "no", "yes", "yes")
FELT = ("about right", "", "too easy", "about right", "too hard")
SAID = ("", "", "fine today", '"a long day, then the exercises"', "stiff in the morning")


def write(path: Path, clients: Sequence[str], first: date, rows: int, faulty: int) -> list[tuple[int, str]]:
    """Write so many rows, day by day and client by client, of which `faulty` are wrong; (line, code) of each of these."""
    step, wrong = rows // faulty if faulty else rows + 1, list[tuple[int, str]]()
    before = ""
    with path.open("w", encoding="utf-8", newline="") as stream:
        stream.write(HEAD)
        for number in range(rows):
            day, place = divmod(number, len(clients))
            good = _line(number, clients[place], first + timedelta(days=day))
            if faulty and number % step == step - 1 and len(wrong) < faulty:
                text, code = _faulty(len(wrong), number, clients[place], first + timedelta(days=day), before)
                wrong.append((number + 2, code))
                stream.write(text)
            else:
                stream.write(good)
                before = good
    return wrong


def _line(number: int, client: str, day: date, *, said: str = "", pain: int | None = None) -> str:
    turn = number % 5
    return (
        f"L{number},{client},{said or day.isoformat()},1,{DONE[turn]},{number % 7 if pain is None else pain},{number % 11},"
        f"{FELT[turn]},{SAID[turn]}\n"
    )


def _faulty(turn: int, number: int, client: str, day: date, before: str) -> tuple[str, str]:
    match turn % 5:
        case 0:
            return _line(number, client, day, said="2026-02-30"), "no_such_day"
        case 1:
            return _line(number, client, day, pain=11), "out_of_range"
        case 2:
            return _line(number, "nobody", day), "unknown_client"
        case 3:
            return f'L{number},{client},{day.isoformat()},1,yes,1,1,,"left open\n', "unclosed_quote"
    return before, "duplicate_in_file"
