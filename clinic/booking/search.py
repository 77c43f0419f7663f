"""The search for openings: loads what makes time free or taken, asks the rules, names the people and rooms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from clinic.booking import availability, groups
from clinic.booking.models import Appointment, Room, VisitType
from clinic.booking.rules import grid as g
from clinic.booking.rules import openings as rules
from clinic.booking.vocab import HOLDING
from clinic.people.models import Client, Episode, Site, Staff
from clinic.people.queries import clinicians_at
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.people.vocab import EpisodeStatus

LONGEST_SEARCH = 92   # days
PARTS_OF_DAY = ((time(0), time(12)), (time(12), time(17)), (time(17), time.max))


@dataclass(frozen=True)
class Opening:
    """A start time at which every resource is free. `reasons` are codes of rules/openings.py."""

    clinician: Staff
    room: Room
    starts: datetime
    ends: datetime
    reasons: tuple[str, ...]
    left: int | None = None     # of a group: how many places are left …
    places: int | None = None   # … of how many


def openings(
    *,
    site: Site,
    visit_type: VisitType,
    first_day: date,
    last_day: date,
    now: datetime,
    clinician: Staff | None = None,
    client: Client | None = None,
    due_window: tuple[date | None, date | None] | None = None,
    limit: int = 20,
    apart_from: Appointment | None = None,
    hours: tuple[time, time] | None = None,
    weekdays: frozenset[int] = frozenset(),
) -> list[Opening]:
    """The best openings of the local days first..last. Nine queries at most, however many clinicians, rooms or days.

    `clinician` narrows to one; `client` keeps the client's own visits free of clashes and wishes for their clinician
    and their usual time of day; `apart_from` is a visit being moved, whose own time counts as free;
    `hours` (half-open, of local starts) and `weekdays` (0 is Monday) leave out all others. Of a kind with places they are
    the groups that can be joined.
    Refusal `range_too_long` (400) beyond 92 days, `invalid` (400) when the range runs backwards.
    """
    _check_range(first_day, last_day)
    staff = {clinician.pk: clinician} if clinician else {person.pk: person for person in clinicians_at(site)}
    if visit_type.is_group:
        grid = g.days_grid(first_day, last_day, site.zone)
        meetings = groups.to_join(
            site=site, kind=visit_type, people=staff, grid=grid, now=now, client=client,
            wish=_wish(client, site, due_window), limit=limit, apart_from=apart_from, hours=hours, weekdays=weekdays,
        )
        return [_of_group(each) for each in meetings]
    rooms = {room.pk: room for room in availability.suitable_rooms(site, visit_type)}
    grid = g.days_grid(first_day, last_day, site.zone)
    taken = availability.busy(list(staff), list(rooms), client, grid.begin, grid.end, apart_from=apart_from)
    found = rules.find(
        grid,
        availability.length_of(visit_type),
        availability.free_masks(grid, list(staff), site, taken),
        {pk: grid.full & ~grid.touched(taken.rooms[pk]) for pk in rooms},
        grid.full & ~grid.touched(taken.client),
        not_before=now,
        shortest=_shortest_visit(),
        zone=site.zone,
    )
    if hours or weekdays:
        found = found.only(hours, weekdays)
    ranked = rules.best(found, _wish(client, site, due_window), limit)
    length = timedelta(minutes=visit_type.minutes)
    return [
        Opening(staff[best.clinician], rooms[best.room], best.starts, best.starts + length, reasons)
        for best, reasons in ranked
    ]


def _of_group(found: groups.Meeting) -> Opening:
    row = found.group
    return Opening(row.clinician, row.room, row.starts, row.ends, found.reasons, found.left, found.places)


def _shortest_visit() -> int:
    """The ticks of the shortest kind of visit: a gap below that is of no use."""
    return min((availability.length_of(kind).whole for kind in VisitType.objects.all()), default=1)


def _check_range(first_day: date, last_day: date) -> None:
    if last_day < first_day:
        raise Refusal(
            "invalid", "The last day is before the first.", status=400, fields={"to": "Choose a day after the first."}
        )
    if (last_day - first_day).days >= LONGEST_SEARCH:
        raise Refusal(
            "range_too_long", f"Openings can be searched for {LONGEST_SEARCH} days at a time.", status=400,
            fields={"to": f"Choose a day within {LONGEST_SEARCH} days of the first."}, days=LONGEST_SEARCH,
        )


def _wish(client: Client | None, site: Site, due: tuple[date | None, date | None] | None) -> rules.Wish:
    """What this client is best served by: the window, their clinician, the part of the day they usually come in."""
    earliest, latest = due or (None, None)
    if client is None:
        return rules.Wish(earliest, latest)
    lead = (
        Episode.objects.filter(client=client, status=EpisodeStatus.ACTIVE)
        .order_by("-opened", "-pk").values_list("lead", flat=True).first()
    )
    return rules.Wish(earliest, latest, lead, _usual_part(client, site))


def _usual_part(client: Client, site: Site) -> tuple[time, time] | None:
    """The part of the day that most of the client's last six visits fell into; None after fewer than two."""
    rows = Appointment.objects.filter(client=client, status__in=HOLDING).order_by("-starts").values_list("starts", flat=True)
    times = [starts.astimezone(zones.zone(site.zone)).time() for starts in rows[:6]]
    if len(times) < 2:
        return None
    counts = [(sum(low <= at < high for at in times), (low, high)) for low, high in PARTS_OF_DAY]
    most, part = max(counts, key=lambda entry: entry[0])
    return part if most * 2 > len(times) else None
