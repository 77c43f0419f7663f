"""Openings for the rows of a page, in one search for each site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from clinic.booking.models import VisitType
from clinic.booking.queries import Opening, openings, visit_types
from clinic.people.models import Site
from clinic.people.rules import zones
from clinic.visits.models import Reassessment
from clinic.visits.wording import time_words

DAYS_AHEAD = 14
MOST_DAYS = 60   # a longer search would hold up the page; booking refuses more than about three months
MOST_SEARCHED = 1000   # more than the three openings a day of every clinician of a large site in those days
OFFERED = 3


@dataclass(frozen=True)
class Offer:
    """An opening as it is shown and sent back. `inside`: its day lies in the due window."""

    clinician: str
    name: str
    start: str
    words: str
    inside: bool


def review_type() -> VisitType | None:
    """The visit type that reassessments are booked as."""
    return next((kind for kind in visit_types() if kind.is_reassessment), None)


def offers_for(rows: Sequence[Reassessment], today: date, now: datetime) -> dict[int, list[Offer]]:
    """By key of an unbooked row, the next openings with its own clinician on different days, from its window's start on."""
    wanted = [row for row in rows if row.appointment_id is None and row.earliest < today + timedelta(days=DAYS_AHEAD)]
    kind = review_type() if wanted else None
    if kind is None:
        return {}
    sites = {row.episode.client.site_id: row.episode.client.site for row in wanted}
    last = today + timedelta(days=DAYS_AHEAD - 1)
    found = {
        key: openings(site=site, visit_type=kind, first_day=today, last_day=last, now=now, limit=MOST_SEARCHED)
        for key, site in sites.items()
    }
    return {row.pk: _next_days(row, found[row.episode.client.site_id]) for row in wanted}


def _next_days(row: Reassessment, found: Sequence[Opening]) -> list[Offer]:
    site: Site = row.episode.client.site
    days: dict[date, Opening] = {}
    for opening in sorted(found, key=lambda each: each.starts):
        day = zones.day_in(opening.starts, site.zone)
        if opening.clinician.pk == row.episode.lead_id and day >= row.earliest:
            days.setdefault(day, opening)
    return [offer_of(row, opening) for opening in list(days.values())[:OFFERED]]


def offers_to_choose(
    row: Reassessment, *, first_day: date, now: datetime, anyone: bool, limit: int = 24
) -> list[Offer]:
    """Openings for one row from `first_day` to the end of its window, two weeks at least; inside the window first."""
    kind = review_type()
    if kind is None:
        return []
    site, lead = row.episode.client.site, row.episode.lead
    last = max(row.latest, first_day + timedelta(days=DAYS_AHEAD - 1))
    last = min(last, first_day + timedelta(days=MOST_DAYS - 1))
    found = openings(
        site=site, visit_type=kind, first_day=first_day, last_day=last, now=now, clinician=None if anyone else lead,
        client=row.episode.client, due_window=(row.earliest, row.latest), limit=limit,
    )
    return [offer_of(row, opening) for opening in found]


def offer_of(row: Reassessment, opening: Opening) -> Offer:
    """An opening in the words of the row's site."""
    zone = row.episode.client.site.zone
    day = zones.day_in(opening.starts, zone)
    return Offer(
        clinician=str(opening.clinician.public_id), name=opening.clinician.name, start=opening.starts.isoformat(),
        words=time_words(opening.starts, zone), inside=row.earliest <= day <= row.latest,
    )
