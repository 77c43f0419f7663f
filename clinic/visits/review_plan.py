"""Places for all the reviews that come due: each inside its window, with the clinician who leads the episode."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from clinic.booking import availability, displaced
from clinic.booking.models import VisitType
from clinic.booking.rules import grid as g
from clinic.booking.rules.places import DAY, GAP, LONGEST, ODD, Book, Job
from clinic.booking.rules.replacing import Place, place_all
from clinic.people.models import Site, Staff, User
from clinic.people.rules import zones
from clinic.visits.models import Reassessment
from clinic.visits.openings import review_type
from clinic.visits.queries import overdue_list
from clinic.visits.rules.shortage import Missing, missing

WEEKS = 12
SOON = 13        # days from today in which one whose window is over gets a place
MOST = 400       # reviews placed at once, the most urgent first
SECONDS = 15     # a step of the search


@dataclass(frozen=True)
class Line:
    """A review with its place, or why there is none (a code of booking's rules/replacing.py). `late`: its window is over."""

    row: Reassessment
    late: bool
    clinician: Staff
    starts: datetime | None
    why_not: str


@dataclass(frozen=True)
class ReviewPlan:
    """`proven`: no other choice places more, or closer to the days due. `beyond`: so many more were not looked at."""

    site: Site
    lines: list[Line]
    missing: list[tuple[Staff, Missing]]
    minutes: int
    proven: bool
    beyond: int

    @property
    def placed(self) -> int:
        return sum(line.starts is not None for line in self.lines)

    @property
    def lacking(self) -> int:
        """Minutes that are missing altogether."""
        return sum(each.minutes for _, each in self.missing)


def plan_reviews(user: User, site: Site, now: datetime) -> ReviewPlan | None:
    """The reviews of twelve weeks that the user may see and that have no visit yet. It holds nothing and writes nothing.
    None for a practice without a kind of visit for it. Eleven queries."""
    kind, today = review_type(), zones.day_in(now, site.zone)
    if kind is None:
        return None
    rows = overdue_list(user, today).filter(
        appointment__isnull=True, due__lt=today + timedelta(weeks=WEEKS), episode__client__site=site
    )
    found = list(rows[: MOST + 1])
    beyond = max(rows.count() - MOST, 0) if len(found) > MOST else 0
    found = found[:MOST]
    last = max([_window(row, today)[1] for row in found], default=today)
    book = displaced.book_of(site, today, last, now)
    jobs = _jobs(found, kind, site, book, today)
    # leaving one out costs more than all the others can, so that as many as can be get a place
    book = replace(book, left_out=(DAY * LONGEST + 2 * GAP + ODD) * (len(jobs) + 1), any_start=True)
    answer = place_all(jobs, book, seconds=SECONDS)
    lines = [
        _line(row, today, book, kind, answer.placed.get(row.pk), answer.left.get(row.pk, "")) for row in found
    ]
    length = availability.length_of(kind).whole * g.CELL // 60
    leads = {line.clinician.pk: line.clinician for line in lines}
    lacking = missing(
        [(line.clinician.pk, max(line.row.due, today)) for line in lines if line.starts is None], length
    )
    return ReviewPlan(site, lines, [(leads[each.clinician], each) for each in lacking], length, answer.proven, beyond)


def _window(row: Reassessment, today: date) -> tuple[date, date]:
    """The days a place may be on: the window from today on, or the next days when it is over."""
    if row.latest < today:
        return today, today + timedelta(days=SOON)
    return max(row.earliest, today), row.latest


def _jobs(rows: list[Reassessment], kind: VisitType, site: Site, book: Book, today: date) -> list[Job]:
    rooms = tuple(room.pk for room in availability.suitable_rooms(site, kind))
    length = availability.length_of(kind)
    taken = displaced.taken_by({row.episode.client_id for row in rows}, book, without=set())
    jobs = []
    for row in rows:
        earliest, latest = _window(row, today)
        client, lead = row.episode.client_id, row.episode.lead_id
        jobs.append(Job(
            row.pk, client, lead, min(max(row.due, earliest), latest), None, length, rooms, earliest, latest, inside=True,
            clinicians=frozenset({lead}), taken=tuple(taken[client]),
        ))
    return jobs


def _line(
    row: Reassessment, today: date, book: Book, kind: VisitType, place: Place | None, why_not: str
) -> Line:
    starts = None
    if place is not None:
        starts = g.instant_of(book.grid.first + place.begin + availability.length_of(kind).before)
    return Line(row, row.latest < today, row.episode.lead, starts, why_not)
