"""Many at once: never a double booking, never a half-saved one, never a server error."""

from __future__ import annotations

import json
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import combinations
from threading import Barrier, Event

import psycopg
import pytest
from django.db import OperationalError, connections, transaction
from django.test import Client as Browser
from django.utils import timezone

from clinic.booking import claiming
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.models import Appointment, Claim, WorkingHours
from clinic.booking.vocab import HOLDING
from clinic.people.models import AuditEvent, Client, IdempotencyKey
from clinic.people.refusal import Refusal
from clinic.reminders.models import Message

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(jobs):
    """Run every job in a thread of its own with its own connection, all let go together."""
    gate = Barrier(len(jobs))

    def run(job):
        gate.wait()
        try:
            return job()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return [future.result() for future in [pool.submit(run, job) for job in jobs]]


@pytest.fixture
def start(cast):
    WorkingHours.objects.update(rule="FREQ=DAILY")
    return (timezone.now() + timedelta(days=3)).replace(hour=11, minute=0, second=0, microsecond=0)


@pytest.fixture
def people(cast):
    """Fifty clients beside Ada and Bo."""
    return Client.objects.bulk_create(
        Client(site=cast.site, given_name=f"Guest {n}", zone=cast.site.zone) for n in range(50)
    )


def post(cookie, body, **headers):
    browser = Browser(raise_request_exception=True, headers=headers)
    browser.cookies["session"] = cookie
    answer = browser.post("/api/v1/appointments", json.dumps(body), content_type="application/json")
    return answer.status_code, answer.json()


def body_for(cast, client, start):
    return {
        "client": str(client.public_id), "clinician": str(cast.mina.public_id), "visit_type": "first",
        "start": start.isoformat(),
    }


def signed_in(browse, user):
    return browse(user).cookies["session"].value


def test_fifty_want_one_opening_and_one_gets_it(cast, people, start, browse):
    cookie = signed_in(browse, cast.desk.user)
    bodies = [body_for(cast, client, start) for client in people]
    answers = at_once([lambda body=body: post(cookie, body) for body in bodies])
    assert Counter(status for status, _ in answers) == {201: 1, 409: 49}
    refused = [body for status, body in answers if status == 409]
    assert {body["title"] for body in refused} == {"slot_taken"}
    assert {body["taken"] for body in refused} == {"clinician"}
    assert all(len(body["openings"]) == 3 for body in refused)
    # 60 minutes for the client, 10 more of clean-up for clinician and room
    counts = {code: Claim.objects.filter(resource=code).count() for code in ("clinician", "room", "client")}
    assert counts == {"clinician": 14, "room": 14, "client": 12}
    assert (Appointment.objects.count(), Message.objects.count()) == (1, 1)
    assert AuditEvent.objects.filter(verb="book_visit").count() == 1


def test_one_key_sent_many_times_books_once(cast, start, browse):
    cookie = signed_in(browse, cast.desk.user)
    body = body_for(cast, cast.ada, start)
    answers = at_once([lambda: post(cookie, body, idempotency_key="one-visit")] * 8)
    # those that came while the first was running are told to ask again
    assert {status for status, _ in answers} <= {201, 409}
    assert {body["title"] for status, body in answers if status == 409} <= {"still_running"}
    again, first = post(cookie, body, idempotency_key="one-visit"), Appointment.objects.get()
    assert (again[0], again[1]["id"]) == (201, str(first.public_id))
    other = {**body, "visit_type": "follow-up"}
    assert post(cookie, other, idempotency_key="one-visit")[0] == 422
    assert IdempotencyKey.objects.count() == 1


def attempt(work):
    try:
        work()
    except Refusal as refusal:
        return refusal.code
    return "done"


def overlapping():
    rows = list(Appointment.objects.filter(status__in=HOLDING))
    return [
        (one, other)
        for one, other in combinations(rows, 2)
        if (
            (one.clinician_id == other.clinician_id or one.room_id == other.room_id)
            and one.busy_from < other.busy_until and other.busy_from < one.busy_until
        )
        or (one.client_id == other.client_id and one.starts < other.ends and other.starts < one.ends)
    ]


def test_bookings_moves_cancellations_and_returns_leave_no_overlap(cast, people, start):
    by, now = cast.desk.user, timezone.now()
    hour = timedelta(hours=1)

    def book(client, at, who=cast.mina):
        return book_visit(by=by, client=client, visit_type=cast.follow_up, clinician=who, start=at, now=now)

    visits = [book(people[n], start + n * hour) for n in range(4)]
    gone = [cancel_visit(by=by, appointment=book(people[9], start - hour, cast.theo), reason="client", now=now)]
    jobs = []
    for n, visit in enumerate(visits):
        target = start + ((n + 1) % 4) * hour
        jobs += [
            lambda visit=visit, target=target: move_visit(by=by, appointment=visit, start=target, now=now),
            lambda visit=visit: move_visit(by=by, appointment=visit, start=start - hour, now=now, clinician=cast.theo),
            lambda n=n: book(people[20 + n], start + n * hour),
            lambda n=n: book(people[30 + n], start - hour, cast.theo),
        ]
    jobs += [lambda: cancel_visit(by=by, appointment=visits[0], reason="client", now=now)] * 2
    jobs += [lambda: mark_visit(by=by, appointment=gone[0], status="booked", now=now)] * 3
    codes = Counter(at_once([lambda job=job: attempt(job) for job in jobs]))
    assert set(codes) <= {"done", "slot_taken", "wrong_status"}
    assert codes["done"] >= 2
    assert overlapping() == []
    expected = {
        (need[0], need[1], cell)
        for row in Appointment.objects.filter(status__in=HOLDING) for need in claiming.needs(row) for cell in need[2]
    }
    assert set(Claim.objects.values_list("resource", "resource_id", "cell")) == expected


def test_who_waits_for_a_visit_that_is_given_another_room_and_clinician_finds_it(cast, people, start):
    """A read with joins that waited would find nothing on PostgreSQL: a cancellation beside a move ended in an error."""
    by, now = cast.desk.user, timezone.now()
    visit = book_visit(by=by, client=people[0], visit_type=cast.follow_up, clinician=cast.mina, start=start, now=now)
    assert visit.room == cast.room
    moved, cancelling = Event(), Event()

    def move():
        with transaction.atomic():
            move_visit(by=by, appointment=visit, start=start, now=now, clinician=cast.theo, room=cast.hall)
            moved.set()
            cancelling.wait(10)
            time.sleep(0.5)   # the other is waiting for the row by now

    def cancel():
        moved.wait(10)
        cancelling.set()
        return cancel_visit(by=by, appointment=visit, reason="client", now=now)

    _, gone = at_once([move, cancel])
    assert (gone.status, gone.room, gone.clinician, gone.version) == ("cancelled", cast.hall, cast.theo, 3)
    assert not Claim.objects.exists()


def broken_off(monkeypatch, times):
    """The database breaks the first `times` transactions off, as it does after a deadlock."""
    real, left = claiming.take, [times]

    def take(appointment):
        real(appointment)
        if left[0]:
            left[0] -= 1
            raise OperationalError from psycopg.errors.DeadlockDetected()

    monkeypatch.setattr(claiming, "take", take)
    monkeypatch.setattr("clinic.people.retrying.PAUSE", 0)


def test_a_deadlock_is_tried_again_three_times(cast, start, browse, monkeypatch):
    cookie = signed_in(browse, cast.desk.user)
    broken_off(monkeypatch, 3)
    status, _ = post(cookie, body_for(cast, cast.ada, start))
    assert (status, Appointment.objects.count(), Claim.objects.count()) == (201, 1, 40)


def test_after_that_the_caller_is_asked_to_and_nothing_is_half_saved(cast, start, browse, monkeypatch):
    cookie = signed_in(browse, cast.desk.user)
    broken_off(monkeypatch, 4)
    status, body = post(cookie, body_for(cast, cast.ada, start))
    assert (status, body["title"], body["retry_after"]) == (503, "try_again", 1)
    assert (Appointment.objects.count(), Claim.objects.count(), Message.objects.count()) == (0, 0, 0)
    assert not AuditEvent.objects.filter(verb="book_visit").exists()
