"""Say that a clinician, or everybody, is away, and work out new places for the visits of those days."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from clinic.booking import displaced
from clinic.booking.models import Absence, Appointment, Away, ProposedMove, Room
from clinic.booking.rules import grid as g
from clinic.booking.rules.places import Book
from clinic.booking.rules.replacing import Answer, place_all
from clinic.booking.vocab import UNSETTLED, MoveState
from clinic.people import audit
from clinic.people.models import Site, Staff, User
from clinic.people.queries import clinicians_at
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction
from clinic.people.rules import zones

LONGEST_AWAY = 28      # days that can be given at once
FAR_AHEAD = 366        # days ahead
SECONDS = 15           # a step of the search for; what is found by then is proposed, with how far from the best it may be
WITHIN = 0.01          # good enough for more visits than this
MANY = 150
IN_A_GROUP = "in_a_group"   # the desk chooses another group, or calls this one off


def plan_away(
    *, by: User, site: Site, clinician: Staff | None, first_day: date, last_day: date, anyone: bool, now: datetime
) -> Away:
    """Nothing moves by it: the days are closed for new bookings, each visit on them gets a proposal or the reason why not.

    `clinician` None closes the whole site. Refusal `invalid` (400) for days that cannot be used or somebody from elsewhere.
    """
    _check(site, clinician, first_day, last_day, zones.day_in(now, site.zone))
    span = zones.day_bounds(first_day, site.zone)[0], zones.day_bounds(last_day, site.zone)[1]
    absent = [clinician.pk] if clinician else [person.pk for person in clinicians_at(site)]
    visits = displaced.displaced(site, clinician, first_day, last_day, now)
    first, last = displaced.search_days(first_day, last_day, zones.day_in(now, site.zone))
    book = displaced.book_of(site, first, last, now, without=visits, closed=(span, absent))
    jobs = displaced.jobs_of([visit for visit in visits if visit.place_id is None], book, anyone=anyone)
    answer = place_all(jobs, book, within=0.0 if len(jobs) <= MANY else WITHIN, seconds=SECONDS)
    away = Away(
        site=site, clinician=clinician, first_day=first_day, last_day=last_day, anyone=anyone, cost=answer.cost,
        bound=answer.bound, at=now, by=by,
    )
    return _write(away, span, absent, visits, answer, book)


@in_one_transaction
def _write(
    away: Away, span: g.Span, absent: Sequence[int], visits: Sequence[Appointment], answer: Answer, book: Book
) -> Away:
    away.pk = None   # a retry starts afresh
    away.save()
    Absence.objects.bulk_create(
        Absence(clinician_id=pk, starts=span[0], ends=span[1], reason="Away", away=away) for pk in absent
    )
    ProposedMove.objects.filter(appointment__in=visits, state__in=UNSETTLED).update(state=MoveState.LEFT)
    rooms = {room.pk: room for room in Room.objects.filter(site=away.site)}
    ProposedMove.objects.bulk_create(_move(away, visit, answer, book, rooms) for visit in visits)
    audit.record(
        by=away.by, verb="plan_away", kind="away", public_id=away.public_id, at=away.at, client=None, visits=len(visits),
        placed=len(answer.placed), first_day=away.first_day.isoformat(), last_day=away.last_day.isoformat(),
    )
    return away


def _move(away: Away, visit: Appointment, answer: Answer, book: Book, rooms: dict[int, Room]) -> ProposedMove:
    move = ProposedMove(
        away=away, appointment=visit, version=visit.version, was_starts=visit.starts, was_clinician=visit.clinician
    )
    place = answer.placed.get(visit.pk)
    if place is None:
        move.state, move.why_not = MoveState.NO_PLACE, answer.left.get(visit.pk, IN_A_GROUP)
        return move
    before = displaced.length_of(visit).before
    move.clinician_id, move.room = place.clinician, rooms[place.room]
    move.starts = g.instant_of(book.grid.first + place.begin + before)
    move.reasons = [list(part) for part in place.parts]
    return move


def _check(site: Site, clinician: Staff | None, first_day: date, last_day: date, today: date) -> None:
    wrong: dict[str, str] = {}
    if first_day < today:
        wrong["first_day"] = "That day is over."
    elif (first_day - today).days > FAR_AHEAD:
        wrong["first_day"] = "Choose a day within a year."
    if last_day < first_day:
        wrong["last_day"] = "The last day is before the first."
    elif (last_day - first_day).days >= LONGEST_AWAY:
        wrong["last_day"] = f"{LONGEST_AWAY} days can be given at a time."
    if clinician is not None and not clinicians_at(site).filter(pk=clinician.pk).exists():
        wrong["clinician"] = "Choose a clinician of this site."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
