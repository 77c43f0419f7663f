"""A short run of the history checker, and proof that it sees what it is there for."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connections

from clinic.booking.models import Appointment, Claim
from tests.booking import history

SECONDS, CLIENTS = 5, 8
pytestmark = pytest.mark.django_db(transaction=True)


def one(seed):
    try:
        return history.act(seed, SECONDS)
    finally:
        connections.close_all()


def test_many_at_once_leave_no_overlap_at_any_commit_and_lose_nothing():
    history.practice()
    with ThreadPoolExecutor(CLIENTS) as pool:
        seen = list(pool.map(one, range(CLIENTS)))
    figures = history.replayed()
    assert history.check_known([known for _, known in seen]) == figures["visits"] > 0
    done = {what.split()[0] for counts, _ in seen for what in counts if what.endswith(" done")}
    assert {"book", "move", "cancel"} <= done
    assert figures["commits"] > figures["visits"]


def test_the_checker_sees_an_overlap_and_a_lost_visit():
    history.practice()
    while not Appointment.objects.filter(status="booked").exists():
        history.act(3, 0.3)
    row = Appointment.objects.filter(status="booked").first()
    with pytest.raises(ValueError, match="lost"):
        history.check_known([{str(each.public_id): 1 for each in Appointment.objects.all()}, {"gone": 1}])
    at = history.state(row.__dict__) | {"clinician_id": 1, "room_id": 1, "client_id": 1}
    later = datetime(2030, 1, 1, tzinfo=UTC)
    apart = at | {"starts": later, "ends": later + timedelta(minutes=5), "busy_from": later, "busy_until": later}
    history.check_book({1: at, 2: apart})
    with pytest.raises(ValueError, match="overlap"):
        history.check_book({1: at, 2: at | {"room_id": 2, "client_id": 2}})
    Claim.objects.filter(appointment=row).first().delete()
    with pytest.raises(ValueError, match="claims"):
        history.replayed()
