"""Plain words for a booking: "ada reassess next tue am", "ada follow-up in 2 weeks after 15:00 with mara".

What is no word of time, kind or clinician is part of the client's name, phone or birth date; whether anybody is called
so, the caller knows. Words in quotes are always a name. The vocabulary is our own (English).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, time, timedelta

from clinic.booking.rules import asking_words as w
from clinic.people.rules.contacts import search_form

NOON, FIVE = time(12), time(17)
PARTS = {
    "am": (time.min, NOON), "morning": (time.min, NOON), "mornings": (time.min, NOON), "pm": (NOON, time.max),
    "afternoon": (NOON, FIVE), "afternoons": (NOON, FIVE), "evening": (FIVE, time.max), "evenings": (FIVE, time.max),
}
FILLERS = {"a", "an", "the", "for", "on", "at", "in", "to", "and", "please", "visit", "visits", "book", "is", "of"}
LONGEST = 300   # characters read


@dataclass(frozen=True)
class Problem:
    """`code` is nobody_called, several_called, said_twice, or no_day (words that leave no day)."""

    code: str
    words: str


@dataclass(frozen=True)
class Rhythm:
    """A series: visits a week (0: on each of the named weekdays), every `every` weeks, for `weeks` weeks."""

    per_week: int = 0
    every: int = 1
    weeks: int = 0


@dataclass(frozen=True)
class Asked:
    """What was understood. Days are local; `hours` is a half-open span of local start times."""

    names: tuple[str, ...] = ()
    kind: str | None = None
    clinician: str | None = None
    first: date | None = None
    last: date | None = None
    weekdays: frozenset[int] = frozenset()
    hours: tuple[time, time] | None = None
    rhythm: Rhythm | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def says_more(self) -> bool:
        """Whether anything but a client was named."""
        return replace(self, names=(), problems=()) != Asked()


@dataclass
class _Reader:
    """Reads words from the left; each rule takes as many as it understands."""

    words: list[str]
    kinds: Sequence[tuple[str, str]]
    clinicians: Sequence[tuple[str, str]]
    today: date
    found: Asked = field(default_factory=Asked)

    def trouble(self, code: str, words: str) -> None:
        self.found = replace(self.found, problems=(*self.found.problems, Problem(code, words)))

    def put(self, words: str, **values: object) -> None:
        """Keep a value; two that differ are said rather than chosen between."""
        for name, value in values.items():
            if getattr(self.found, name) not in (None, value):
                self.trouble("said_twice", words)
                return
        self.found = replace(self.found, **values)   # type: ignore[arg-type]

    def between(self, words: str, first: date | None, last: date | None) -> None:
        """Narrow the days."""
        low = max(filter(None, (self.found.first, first)), default=None)
        high = min(filter(None, (self.found.last, last)), default=None)
        if low and high and high < low:
            self.trouble("no_day", words)
            return
        self.found = replace(self.found, first=low, last=high)

    def during(self, words: str, low: time, high: time) -> None:
        """Narrow the hours."""
        now_low, now_high = self.found.hours or (time.min, time.max)
        low, high = max(low, now_low), min(high, now_high)
        if high <= low:
            self.trouble("said_twice", words)
            return
        self.found = replace(self.found, hours=(low, high))


def read(
    text: str, *, kinds: Sequence[tuple[str, str]], clinicians: Sequence[tuple[str, str]], today: date
) -> Asked:
    """What the text asks for. `kinds` and `clinicians` are (key, name) as they may be typed; `today` is the site's day."""
    pieces = re.findall(r'"[^"]*"|[^\s,;"]+', text[:LONGEST])
    reader = _Reader([piece if piece[0] == '"' else search_form(piece) for piece in pieces], kinds, clinicians, today)
    at = 0
    while at < len(reader.words):
        at += _step(reader, at)
    return _settle(reader)


def _step(reader: _Reader, at: int) -> int:
    """Read what stands at a word; the number of words taken."""
    word = reader.words[at]
    if word.startswith('"'):
        reader.found = replace(reader.found, names=(*reader.found.names, *search_form(word.strip('"')).split()))
        return 1
    for rule in RULES:
        taken = rule(reader, at)
        if taken:
            return taken
    if word not in FILLERS and word:
        reader.found = replace(reader.found, names=(*reader.found.names, word))
    return 1


def _said(reader: _Reader, at: int, count: int) -> str:
    return " ".join(reader.words[at:at + count])


def _clinician(reader: _Reader, at: int) -> int:
    """with NAME: any part of a clinician's name, from its beginning."""
    if reader.words[at] != "with" or at + 1 >= len(reader.words):
        return 0
    fits, taken = list(reader.clinicians), 0
    for word in reader.words[at + 1:]:
        narrowed = [
            (key, name) for key, name in fits if any(part.startswith(word.strip('"')) for part in search_form(name).split())
        ]
        if not narrowed or (taken and len(fits) == 1 and not narrowed):
            break
        fits, taken = narrowed, taken + 1
    if not taken:
        reader.trouble("nobody_called", reader.words[at + 1])
        return 2
    if len(fits) > 1:
        reader.trouble("several_called", _said(reader, at + 1, taken))
    else:
        reader.put(_said(reader, at, taken + 1), clinician=fits[0][0])
    return taken + 1


def _ahead(reader: _Reader, at: int) -> int:
    """in N days, weeks or months: that day, or the week that begins with it."""
    if reader.words[at] != "in":
        return 0
    span = w.amount(reader.words[at + 1:])
    if span is None:
        return 0
    number, unit, taken = span
    day = w.later(reader.today, number, unit)
    if day is None:
        reader.trouble("no_day", _said(reader, at, taken + 1))
    else:
        reader.between(_said(reader, at, taken + 1), day, day if unit == "day" else day + timedelta(days=6))
    return taken + 1


def _bounded(reader: _Reader, at: int) -> int:
    """after, from, before, until, by: a time of day or a day."""
    word = reader.words[at]
    if word not in {"after", "from", "before", "until", "by"}:
        return 0
    days = w.days(reader.words[at + 1:], reader.today)
    if days is not None:
        first, last, taken = days
        one = timedelta(days=1)
        low = last + one if word == "after" else first if word == "from" else None
        high = first - one if word == "before" else last if word in {"until", "by"} else None
        reader.between(_said(reader, at, taken + 1), low, high)
        return taken + 1
    clock = w.clock(reader.words[at + 1:], hour_alone=True)
    if clock is None:
        return 0
    moment, taken = clock
    span = (moment, time.max) if word in {"after", "from"} else (time.min, moment)
    reader.during(_said(reader, at, taken + 1), *span)
    return taken + 1


def _days(reader: _Reader, at: int) -> int:
    """A day or a week by name or date; a weekday on its own waits until all is read."""
    weekday = w.weekday(reader.words[at])
    if weekday is not None:
        reader.found = replace(reader.found, weekdays=reader.found.weekdays | {weekday})
        return 1
    days = w.days(reader.words[at:], reader.today)
    if days is None:
        return 0
    first, last, taken = days
    if last < reader.today:   # a day long past is when somebody was born
        reader.found = replace(reader.found, names=(*reader.found.names, first.isoformat()))
    else:
        reader.between(_said(reader, at, taken), first, last)
    return taken


def _hours(reader: _Reader, at: int) -> int:
    """A part of the day, between two times, or one time."""
    word = reader.words[at]
    if word in PARTS:
        reader.during(word, *PARTS[word])
        return 1
    if word == "between":
        span = w.two_clocks(reader.words[at + 1:])
        if span is not None:
            reader.during(_said(reader, at, span[2] + 1), span[0], span[1])
            return span[2] + 1
    lead = int(word == "at")
    clock = w.clock(reader.words[at + lead:], hour_alone=bool(lead))
    if clock is None:
        return 0
    moment, taken = clock
    reader.during(_said(reader, at, taken + lead), moment, moment.replace(second=59))
    return taken + lead


def _kind(reader: _Reader, at: int) -> int:
    """The beginning of a kind of visit: three letters of its name or of a word in it, or its code."""
    word = re.sub(r"\W", "", reader.words[at])
    if len(word) < 3:
        return 0
    fits = [key for key, name in reader.kinds if any(part.startswith(word) for part in w.ways_to_say(key, name))]
    if not fits or word in {"visit", "visits"}:
        return 0
    if len(fits) > 1:
        reader.trouble("several_called", reader.words[at])
    else:
        reader.put(reader.words[at], kind=fits[0])
    return 1


def _rhythm(reader: _Reader, at: int) -> int:
    """twice a week, every tue, every 2 weeks, for four weeks."""
    piece = w.rhythm(reader.words[at:])
    if piece is None:
        return 0
    values, weekdays, taken = piece
    reader.found = replace(
        reader.found, rhythm=replace(reader.found.rhythm or Rhythm(), **values),
        weekdays=reader.found.weekdays | weekdays,
    )
    return taken


RULES: tuple[Callable[[_Reader, int], int], ...] = (_clinician, _rhythm, _ahead, _bounded, _days, _hours, _kind)


def _settle(reader: _Reader) -> Asked:
    """A weekday on its own is the coming one, today included; inside named days it narrows them."""
    found = reader.found
    if not found.weekdays or found.rhythm:
        return found
    if found.first is None and found.last is None:
        coming = [w.coming(reader.today, weekday) for weekday in found.weekdays]
        if len(coming) == 1:
            return replace(found, first=coming[0], last=coming[0], weekdays=frozenset())
        return replace(found, first=min(coming), last=max(coming))
    return found
