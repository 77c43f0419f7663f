"""The words of time that a booking may be typed in. Each function reads from the left and says how many words it took."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, time, timedelta

from dateutil.relativedelta import relativedelta

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)
NUMBERS = {
    "a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12,
}
TIMES = {"once": 1, "twice": 2, "thrice": 3}
UNITS = {"day": "day", "days": "day", "week": "week", "weeks": "week", "month": "month", "months": "month"}
MOST = 731   # days ahead that can be named
CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?(am|pm)?")


def number(word: str) -> int | None:
    """A whole number from 1 to 999, in digits or as a word."""
    if re.fullmatch(r"[0-9]{1,3}", word):
        return int(word) or None
    return NUMBERS.get(word)


def weekday(word: str) -> int | None:
    """0 for Monday: the name, its first three letters or more, also in the plural."""
    word = word.removesuffix("s") if word.endswith("days") else word
    return next((index for index, name in enumerate(DAYS) if len(word) >= 3 and name.startswith(word)), None)


def month(word: str) -> int | None:
    """1 for January: the name, its first three letters or more."""
    return next((index for index, name in enumerate(MONTHS, 1) if len(word) >= 3 and name.startswith(word.strip("."))), None)


def coming(today: date, wanted: int) -> date:
    """The next such weekday, today included."""
    return today + timedelta(days=(wanted - today.weekday()) % 7)


def monday_of(day: date) -> date:
    """The Monday of its week."""
    return day - timedelta(days=day.weekday())


def later(day: date, count: int, unit: str) -> date | None:
    """`count` days, weeks or months later (the last day of a shorter month); None more than two years ahead."""
    if count > MOST:
        return None
    found = day + (relativedelta(months=count) if unit == "month" else timedelta(days=count * (7 if unit == "week" else 1)))
    return found if (found - day).days <= MOST else None


def amount(words: Sequence[str]) -> tuple[int, str, int] | None:
    """"2 weeks", "a month": (2, "week", words taken)."""
    if len(words) < 2 or words[1] not in UNITS:
        return None
    count = number(words[0])
    return None if count is None else (count, UNITS[words[1]], 2)


def days(words: Sequence[str], today: date) -> tuple[date, date, int] | None:
    """A day or a week: first day, last day, words taken. "next tue" is the Tuesday of next week."""
    if not words:
        return None
    head, rest = words[0], words[1:]
    single = {"today": 0, "tomorrow": 1}.get(head)
    if single is not None:
        day = today + timedelta(days=single)
        return day, day, 1
    if head in {"next", "this"} and rest:
        return _of_week(head, rest[0], today)
    lone = weekday(head)
    if lone is not None:
        day = coming(today, lone)
        return day, day, 1
    return _date(words, today)


def _of_week(which: str, word: str, today: date) -> tuple[date, date, int] | None:
    monday = monday_of(today) + timedelta(days=7 if which == "next" else 0)
    if word == "week":
        return max(monday, today), monday + timedelta(days=6), 2
    if word == "month":
        first = today.replace(day=1) + relativedelta(months=int(which == "next"))
        return max(first, today), first + relativedelta(months=1, days=-1), 2
    wanted = weekday(word)
    if wanted is None:
        return None
    day = monday + timedelta(days=wanted) if which == "next" else coming(today, wanted)
    return day, day, 2


def _date(words: Sequence[str], today: date) -> tuple[date, date, int] | None:
    """2026-05-12, 12.5.1984, 12 may, may 12, each with or without a year after it; without one the coming one."""
    plain = re.fullmatch(r"(\d{4})-(\d{2})-(\d{2})", words[0])
    if plain:
        day = _day(int(plain[1]), int(plain[2]), int(plain[3]))
        return (day, day, 1) if day else None
    dotted = re.fullmatch(r"(\d{1,2})[./](\d{1,2})[./](\d{4})", words[0])
    if dotted:
        day = _day(int(dotted[3]), int(dotted[2]), int(dotted[1]))
        return (day, day, 1) if day and day < today else None   # days ahead are written so in two orders: not guessed
    if len(words) < 2:
        return None
    first, second = (re.sub(r"(?<=\d)(st|nd|rd|th)$", "", word) for word in words[:2])
    named = (first, month(second)) if first.isdecimal() else (second, month(first)) if second.isdecimal() else ("", None)
    if named[1] is None or len(named[0]) > 2:
        return None
    taken, year = 2, today.year
    if len(words) > 2 and re.fullmatch(r"[12]\d{3}", words[2]):
        taken, year = 3, int(words[2])
    day = _day(year, named[1], int(named[0]))
    if day and taken == 2 and day < today:
        day = _day(year + 1, named[1], int(named[0]))
    return (day, day, taken) if day else None


def _day(year: int, month_number: int, day: int) -> date | None:
    try:
        return date(year, month_number, day)
    except ValueError:
        return None


def clock(words: Sequence[str], *, hour_alone: bool) -> tuple[time, int] | None:
    """15:00, 3pm, 3 pm; with `hour_alone` also 15. Words taken beside it."""
    match = CLOCK.fullmatch(words[0]) if words else None
    if match is None:
        return None
    hour, minute, half, taken = int(match[1]), int(match[2] or 0), match[3], 1
    if half is None and len(words) > 1 and words[1] in {"am", "pm"} and hour <= 12:
        half, taken = words[1], 2
    if half is None and match[2] is None and not hour_alone:
        return None
    if half is not None:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return (time(hour, minute), taken) if hour < 24 and minute < 60 else None


def two_clocks(words: Sequence[str]) -> tuple[time, time, int] | None:
    """"9 and 11": from, to, words taken; None unless the second is later."""
    low = clock(words, hour_alone=True)
    if low is None or list(words[low[1]:low[1] + 1]) != ["and"]:
        return None
    high = clock(words[low[1] + 1:], hour_alone=True)
    if high is None or high[0] <= low[0]:
        return None
    return low[0], high[0], low[1] + 1 + high[1]


def rhythm(words: Sequence[str]) -> tuple[dict[str, int], frozenset[int], int] | None:
    """"twice a week", "3 times a week", "every tue and thu", "every 2 weeks", "for four weeks"."""
    head, none = words[0], frozenset[int]()
    if head in TIMES and list(words[1:3]) in (["a", "week"], ["per", "week"]):
        return {"per_week": TIMES[head]}, none, 3
    count = number(head)
    if count and list(words[1:4]) in (["times", "a", "week"], ["times", "per", "week"]):
        return {"per_week": min(count, 7)}, none, 4
    if head == "for" and (span := amount(words[1:])) and span[1] in {"week", "month"}:
        return {"weeks": span[0] * (1 if span[1] == "week" else 4)}, none, 3
    if head == "every" and len(words) > 1:
        if words[1] == "week":
            return {"per_week": 1}, none, 2
        if (span := amount(words[1:])) and span[1] == "week":
            return {"per_week": 1, "every": span[0]}, none, 3
        return _every_weekday(words)
    return None


def _every_weekday(words: Sequence[str]) -> tuple[dict[str, int], frozenset[int], int] | None:
    found, taken = set[int](), 1
    while taken < len(words):
        skip = int(bool(found) and words[taken] == "and")
        wanted = weekday(words[taken + skip]) if taken + skip < len(words) else None
        if wanted is None:
            break
        found.add(wanted)
        taken += 1 + skip
    return ({}, frozenset(found), taken) if found else None


def ways_to_say(key: str, name: str) -> set[str]:
    """How a kind of visit may begin when typed: its code, its name, each word of it; letters only."""
    plain = re.sub(r"\W", "", name.casefold())
    return {re.sub(r"\W", "", key), plain, *(part for part in re.split(r"\W+", name.casefold()) if len(part) > 2)}
