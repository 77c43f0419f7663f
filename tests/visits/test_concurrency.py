"""Two at once: one reassessment has one visit, and one reason has one open reassessment."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from threading import Barrier

import pytest
from django.db import connections

from clinic.booking.models import Appointment, Claim
from clinic.people.refusal import Refusal
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment

pytestmark = pytest.mark.django_db(transaction=True)
START = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)


def at_once(jobs):
    """Run every job in a thread of its own, let go together; what it returned, or the code of its refusal."""
    gate = Barrier(len(jobs))

    def run(job):
        gate.wait()
        try:
            return job()
        except Refusal as refused:
            return refused.code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return [future.result() for future in [pool.submit(run, job) for job in jobs]]


def test_two_desks_booking_one_reassessment_make_one_visit(cast, look, now):
    row = look(date(2026, 3, 10))

    def job(clinician, hours):
        return lambda: book_reassessment(
            by=cast.desk.user, reassessment=row, clinician=clinician, start=START + timedelta(hours=hours), now=now
        )

    answers = at_once([job(cast.mina, 0), job(cast.theo, 2), job(cast.mina, 4), job(cast.theo, 6)])
    visit = Appointment.objects.get()
    assert sorted(answer for answer in answers if answer != visit) == ["already_booked"] * 3
    row.refresh_from_db()
    assert row.appointment == visit
    assert set(Claim.objects.values_list("appointment", flat=True)) == {visit.pk}


def test_planning_at_once_opens_one(cast, now):
    def job(due):
        return lambda: plan_reassessment(
            by=cast.mina.user, episode=cast.ada_hip, reason="interval", earliest=due, due=due, latest=due, now=now
        )

    at_once([job(date(2026, 3, 10 + number)) for number in range(4)])
    assert Reassessment.objects.filter(status="open").count() == 1
