"""A client's visits, past and to come, and what was measured at them."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta

from clinic.booking.actions.import_visit import import_visit
from clinic.booking.models import Appointment, VisitType
from clinic.booking.telling import tell_client
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import Episode, User
from clinic.people.rules import zones
from clinic.project.demo.book import Book
from clinic.project.demo.practice import Practice
from clinic.project.demo.story import Manner
from clinic.visits.actions.follow_appointment import follow_appointment
from clinic.visits.models import Measure, Reassessment, Result, Visit
from clinic.visits.vocab import ReassessmentStatus
from programs.prescribing.models import Program

REMINDED = timedelta(days=28)   # past visits of these days keep their reminders
DAYS = (0, 4, 8, 13, 18, 24, 31, 38, 45, 55, 65, 76, 90, 104, 118, 132, 146, 160, 174)   # after the program's start


def write_visits(
    *, practice: Practice, book: Book, program: Program, clinician: int, age: int, manner: Manner, now: datetime,
    dice: random.Random,
) -> None:
    """First visit, follow-ups, the reassessments that were kept, and for most clients a visit to come."""
    today = zones.day_in(now, practice.site.zone)
    planned = [program.starts + timedelta(days=days) for days in DAYS if days < age]
    planned += [today - timedelta(days=dice.randint(2, 9))] if age > 10 else []
    if dice.random() < 0.8:   # the others have nothing booked: the desk has something to do
        planned.append(today + timedelta(days=dice.randint(0, 8)))
    for number, near in enumerate(planned):
        visit_type = practice.first if number == 0 else practice.follow_up
        appointment = _visit(practice, book, program, clinician, near, visit_type, now, dice)
        if appointment and appointment.status == AppointmentStatus.FULFILLED:
            _record(practice.clinicians[clinician].user, program.episode, appointment, number, manner, dice)
    _keep_reassessments(practice, book, program, clinician, today, now, dice)
    if dice.random() < 0.4:
        _book_next_reassessment(practice, book, program, clinician, today, now)


def _visit(
    practice: Practice, book: Book, program: Program, clinician: int, near: date, visit_type: VisitType, now: datetime,
    dice: random.Random,
) -> Appointment | None:
    halves = -(-(visit_type.minutes + visit_type.cleanup_minutes) // 30)
    start = book.find(clinician, near, halves, near + timedelta(days=7))
    if start is None:
        return None
    lead = 1 + (start.toordinal() * 11 + start.hour * 5) % 36   # days; those booked long before are missed more often
    status = AppointmentStatus.BOOKED
    if start < now - timedelta(minutes=visit_type.minutes):
        roll = dice.random()
        status = (
            AppointmentStatus.NOSHOW if roll < 0.01 + 0.003 * lead
            else AppointmentStatus.CANCELLED if roll < 0.18
            else AppointmentStatus.FULFILLED
        )
    appointment = import_visit(
        by=practice.desk.user, client=program.client, visit_type=visit_type, clinician=practice.clinicians[clinician],
        start=start, now=min(now, start - timedelta(days=lead)), status=status, room=practice.rooms[clinician],
        episode=program.episode,
    )
    if lead > 1 and now - REMINDED < start < now and status != AppointmentStatus.CANCELLED:
        tell_client("visit_reminder", appointment, by=practice.desk.user, now=start - timedelta(hours=25))
    return appointment


def _keep_reassessments(
    practice: Practice, book: Book, program: Program, clinician: int, today: date, now: datetime, dice: random.Random
) -> None:
    """Hold the open reassessment, then those that follow from it, as long as they lie in the past; some are forgotten."""
    for _ in range(8):
        row = Reassessment.objects.filter(episode=program.episode, status=ReassessmentStatus.OPEN).order_by("due").first()
        forgotten = row and row.due > today - timedelta(days=30) and dice.random() < 0.2
        if row is None or row.due >= today or forgotten:
            return
        late = dice.choice((-1, 0, 0, 0, 1, 3))
        start = book.find(clinician, row.due + timedelta(days=late), 2, today - timedelta(days=1))
        if start is None:
            return
        appointment = import_visit(
            by=practice.desk.user, client=program.client, visit_type=practice.review,
            clinician=practice.clinicians[clinician], start=start, now=start - timedelta(days=4),
            status=AppointmentStatus.FULFILLED, room=practice.rooms[clinician], episode=program.episode,
        )
        Reassessment.objects.filter(pk=row.pk).update(appointment=appointment)
        follow_appointment(by=practice.clinicians[clinician].user, appointment=appointment, now=appointment.ends)


def _book_next_reassessment(
    practice: Practice, book: Book, program: Program, clinician: int, today: date, now: datetime
) -> None:
    """Put the reassessment that comes due in the next two weeks into the book."""
    row = Reassessment.objects.filter(
        episode=program.episode, status=ReassessmentStatus.OPEN, due__gt=today, due__lt=today + timedelta(days=14)
    ).first()
    start = row and book.find(clinician, max(row.earliest, today + timedelta(days=1)), 2, row.latest)
    if row and start:
        appointment = import_visit(
            by=practice.desk.user, client=program.client, visit_type=practice.review,
            clinician=practice.clinicians[clinician], start=start, now=now, room=practice.rooms[clinician],
            episode=program.episode,
        )
        Reassessment.objects.filter(pk=row.pk).update(appointment=appointment)


# measures by side of a region: code, what the good side shows, and what each step of getting better adds
BY_REGION: dict[str, tuple[tuple[str, float, float], ...]] = {
    "hip": (("hip-flexion", 126, 4),), "trunk": (("single-leg-bridge", 26, 2),), "knee": (("knee-flexion", 136, 5),),
    "thigh": (("single-leg-bridge", 27, 3),), "foot_ankle": (("lunge-distance", 10, 0.5),), "calf": (("lunge-angle", 40, 1),),
    "shoulder": (("shoulder-flexion", 168, 6),), "wrist_hand": (("grip-strength", 31, 1.5),),
}


def _record(
    by: User, episode: Episode, appointment: Appointment, number: int, manner: Manner, dice: random.Random
) -> None:
    note = "First look and baseline." if number == 0 else "Went through the program; questions answered."
    visit = Visit.objects.create(
        episode=episode, appointment=appointment, clinician=appointment.clinician, at=appointment.starts, note=note, by=by
    )
    if number % 2:
        return
    better = 0 if manner.pain_rises else min(4, number)
    values: dict[tuple[str, str], float] = {
        ("pain-now", "none"): max(0, dice.randint(5, 7) - better), ("psfs", "none"): min(10, dice.randint(3, 4) + better)
    }
    for code, usual, step in BY_REGION.get(episode.region, ()):
        for side in ("left", "right"):
            sore = episode.side in {side, "both"}
            values[code, side] = usual - (step * max(1, 5 - better) if sore else 0) - dice.choice((0, 0, step))
    Result.objects.bulk_create(
        Result(
            episode=episode, visit=visit, measure=measure, side=side, value=value, item_values=[value],
            at=appointment.starts, by=by,
        )
        for measure in Measure.objects.filter(code__in={code for code, _ in values})
        for (code, side), value in values.items() if code == measure.code
    )
