"""A site's day laid out on rows of five minutes, for the template: numbers and words, no look."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from clinic.booking.daybook import Column, DayBook
from clinic.booking.models import Appointment, GroupVisit
from clinic.booking.queries import UPCOMING
from clinic.booking.rules import grid as g
from clinic.booking.vocab import HOLDING
from clinic.booking.wording import SHAPES
from clinic.people.rules import zones

SHORTEST = 3   # rows: what a time and a name need
HOUR = 12      # rows


@dataclass(frozen=True)
class Block:
    """`row` is counted from 0 at the top, `rows` is the height."""

    row: int
    rows: int


@dataclass(frozen=True)
class Entry(Block):
    visit: Appointment
    starts: str
    ends: str
    shape: str

    @property
    def can_move(self) -> bool:
        """Whether it can be dragged: it waits to happen, and is in no group."""
        return self.visit.status in UPCOMING and self.visit.place_id is None


@dataclass(frozen=True)
class GroupEntry(Block):
    """A group with those who hold a place; `size` places."""

    group: GroupVisit
    starts: str
    ends: str
    size: int
    visits: list[Entry]


@dataclass(frozen=True)
class Label(Block):
    text: str


@dataclass(frozen=True)
class Lane:
    """One clinician's day: open blocks, the visits in the book, and those that do not take place."""

    name: str
    clinician: UUID
    hours: str
    open: list[Block]
    coming: list[Entry | GroupEntry]
    not_coming: list[Entry]


@dataclass(frozen=True)
class Layout:
    labels: list[Label]
    lanes: list[Lane]
    rows: int
    top: datetime

    @property
    def any_absent(self) -> bool:
        return any(lane.not_coming for lane in self.lanes)


def lay_out(book: DayBook) -> Layout:
    """The rows run from the first full hour that anything touches to the last; an empty day has none."""
    spans = [span for column in book.columns for span in column.hours]
    spans += [
        (visit.starts, visit.ends) for column in book.columns for visit in column.visits if visit.status in HOLDING
    ]
    spans += [(group.starts, group.ends) for column in book.columns for group in column.groups]
    if not spans:
        top = bottom = g.cell_of(book.begin)
    else:
        first, last = g.cell_of(book.begin), g.cell_of(book.end)
        top = max(min(g.cell_of(start) for start, _ in spans), first)
        bottom = min(max(g.cells(start, end).stop for start, end in spans), last)
        top, bottom = max(top - (top - first) % HOUR, first), min(bottom + (first - bottom) % HOUR, last)
    page = _Page(book, top, bottom)
    return Layout(page.labels(), [page.lane(column) for column in book.columns], bottom - top, g.instant_of(top))


@dataclass(frozen=True)
class _Page:
    book: DayBook
    top: int
    bottom: int

    def clock(self, at: datetime) -> str:
        return f"{at.astimezone(zones.zone(self.book.site.zone)):%H:%M}"

    def labels(self) -> list[Label]:
        return [
            Label(cell - self.top, min(HOUR, self.bottom - cell), self.clock(g.instant_of(cell)))
            for cell in range(self.top, self.bottom, HOUR)
        ]

    def block(self, span: g.Span) -> Block:
        taken = g.cells(*span)
        row = max(taken.start, self.top) - self.top
        return Block(row, max(min(taken.stop, self.bottom) - self.top - row, 1))

    def entry(self, visit: Appointment) -> Entry:
        place = self.block((visit.starts, visit.ends))
        shape = SHAPES[visit.status]   # type: ignore[index]
        return Entry(
            place.row, max(place.rows, SHORTEST), visit, self.clock(visit.starts), self.clock(visit.ends), shape
        )

    def group(self, group: GroupVisit, entries: list[Entry]) -> GroupEntry:
        place = self.block((group.starts, group.ends))
        joined = [entry for entry in entries if entry.visit.place is not None and entry.visit.place.group_id == group.pk]
        return GroupEntry(
            place.row, max(place.rows, SHORTEST), group, self.clock(group.starts), self.clock(group.ends),
            group.size, joined,   # type: ignore[attr-defined]   # counted by the query
        )

    def lane(self, column: Column) -> Lane:
        entries = [self.entry(visit) for visit in column.visits]
        held = [entry for entry in entries if entry.visit.status in HOLDING]
        coming: list[Entry | GroupEntry] = [entry for entry in held if entry.visit.place_id is None]
        coming += [self.group(group, held) for group in column.groups]
        return Lane(
            column.clinician.name,
            column.clinician.public_id,
            ", ".join(f"{self.clock(start)}–{self.clock(end)}" for start, end in column.hours),
            [self.block(span) for span in column.hours],
            sorted(coming, key=lambda entry: entry.row),
            [entry for entry in entries if entry.visit.status not in HOLDING],
        )


def neighbours(book: DayBook) -> tuple[str, str]:
    """The days before and after, in ISO form."""
    return (book.day - timedelta(days=1)).isoformat(), (book.day + timedelta(days=1)).isoformat()
