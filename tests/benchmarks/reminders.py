"""Reminders of visits on PostgreSQL: how quickly they leave, what that holds in memory, and what a sweep costs.

The sink is a mail server of its own process that writes each mail to a file and has it on the disk before it says yes, as
RFC 5321 section 6.1 asks of a server that takes a mail over. Its own rate is that of the same letters, written beforehand,
handed to it one after another through the same connection and library: nothing is claimed, asked or recorded. The sweeps
leave by Django's backend that throws mail away, so that only our own work counts. Times are of the wall clock: two processes
and the database's take part. INTERVALE_BENCH_MESSAGES measures fewer messages.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import resource
import socket
import tempfile
import time
from collections.abc import Callable
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from time import perf_counter
from typing import Any

from tests.benchmarks.common import Measured, quickest
from tests.benchmarks.copies import copy_rows

SETTING = "postgres"
MESSAGES = int(os.environ.get("INTERVALE_BENCH_MESSAGES", "100000"))
CLIENTS = 1000
LETTERS = 3000       # of the sink's own rate, before and after
DUE, FEW, MANY = 1000, 10_000, 1_000_000
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
THROWN_AWAY = "django.core.mail.backends.dummy.EmailBackend"


def measure() -> list[Measured]:
    """The rate against the sink's, the memory against that of a tenth, the sweep among many against one among few."""
    from django.conf import settings

    practice()
    few = sweep(FEW)
    many = sweep(MANY - FEW)
    with sink() as port:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS = "127.0.0.1", port, False
        remind(LETTERS)
        before = handed_straight()
        tenth = delivered(MESSAGES // 10)[1]
        took, held = delivered(MESSAGES)
        remind(LETTERS)
        own = min(before, handed_straight())
    what = f"{MESSAGES:,} due reminders of visits"
    return [
        Measured(f"{what} delivered, each", took, "the sink's own time for the same letters, each", own, 2.0),
        Measured(f"most memory held while delivering {what}", held, "a tenth of them", tenth, 1.1, unit="MB"),
        Measured(f"a sweep of {DUE:,} due among {MANY:,} that wait", many, f"among {FEW:,}", few, 1.5),
    ]


def practice() -> None:
    """A thousand clients who agreed to mail, and a visit to remind them of."""
    from clinic.booking.models import Appointment, Room, VisitType
    from clinic.people.models import Client, Consent, Site, Staff, User
    from clinic.people.vocab import Role

    user = User.objects.create_user("mina@harbour.example", role=Role.CLINICIAN)
    site = Site.objects.create(name="Harbour Lane", zone="Europe/London", phone="+441632960100")
    staff = Staff.objects.create(user=user, name="Mina")
    staff.sites.add(site)
    client = Client.objects.create(
        site=site, given_name="Ada", family_name="Quill", email="0@client.example", zone="Europe/London"
    )
    consent = Consent.objects.create(client=client, channel="email", granted=True, at=NOW, by=user)
    visit_type = VisitType.objects.create(code="follow_up", name="Follow-up", minutes=30)
    starts, ends = NOW + timedelta(hours=24), NOW + timedelta(hours=24, minutes=30)
    Appointment.objects.create(
        site=site, client=client, clinician=staff, visit_type=visit_type, room=Room.objects.create(site=site, name="Room"),
        starts=starts, ends=ends, busy_from=starts, busy_until=ends, booked_by=user, booked_at=NOW,
    )
    begin = copy_rows(client, CLIENTS - 1, email="k || '@client.example'")
    copy_rows(consent, CLIENTS - 1, client_id=f"{begin - 1} + k")


def remind(count: int) -> None:
    """So many visits, each with a reminder that is due."""
    from clinic.booking.models import Appointment
    from clinic.reminders.models import Message

    visit, number = Appointment.objects.order_by("pk")[0], Message.objects.count() + 1
    begin = copy_rows(
        visit, count, number, client_id=_client(visit),
        **{name: f"{name} + k * interval '30 minutes'" for name in ("starts", "ends", "busy_from", "busy_until")},
    )
    public_id = f"(SELECT public_id FROM booking_appointment a WHERE a.id = {begin - number} + k)"
    write(
        visit, count, number, "due", f"'appointment:' || {public_id}",
        f"'visit_reminder:' || {public_id} || ':{visit.version}'",
    )


def put_off(count: int) -> None:
    """So many messages that are due on later days."""
    from clinic.booking.models import Appointment
    from clinic.reminders.models import Message

    due = "due + interval '1 day' + k * interval '1 second'"
    visit, number = Appointment.objects.order_by("pk")[0], Message.objects.count() + 1
    write(visit, count, number, due, "'appointment:later'", "'later:' || k")


def write(visit: Any, count: int, first: int, due: str, about: str, key: str) -> None:
    """So many messages out of one; SQL in which k is a message's number from `first`."""
    from django.db import connection

    from clinic.reminders.models import Message

    pattern, _ = Message.objects.get_or_create(
        dedup_key="pattern", defaults={
            "kind": "visit_reminder", "client_id": visit.client_id, "about": "-", "created": NOW, "due": NOW,
            "not_after": NOW + timedelta(days=90_000), "state": "skipped", "reason": "moved",
            "values": {"first_name": "Ada", "day": "Tuesday 3 March", "time": "12:00", "clinic": "Harbour Lane"},
        },
    )
    copy_rows(
        pattern, count, first, client_id=_client(visit), state="'pending'", reason="''", due=due, about=about, dedup_key=key
    )
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE reminders_message, booking_appointment")


def _client(visit: Any) -> str:
    return f"{visit.client_id} + mod(k, {CLIENTS})"


def sweep(more: int) -> float:
    """Seconds of a delivery of DUE messages, with so many more that wait for later days."""
    from django.conf import settings

    settings.EMAIL_BACKEND = THROWN_AWAY
    put_off(more)
    took = []
    for _ in range(3):
        remind(DUE)
        took.append(quickest(deliver_all, rounds=1, clock=perf_counter))
    return min(took)


def deliver_all() -> int:
    """Run after run until nothing is due; how many left."""
    from clinic.reminders.actions.deliver_due import deliver_due

    sent = 0
    while counts := deliver_due(now=NOW, worker="bench"):
        assert set(counts) == {"sent"}, counts
        sent += counts["sent"]
    return sent


def delivered(count: int) -> tuple[float, float]:
    """Seconds of each of so many, and the megabytes this process held at its worst moment so far."""
    remind(count)
    begun = perf_counter()
    assert deliver_all() == count
    return (perf_counter() - begun) / count, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000


def handed_straight() -> float:
    """Seconds of each letter when they are only handed to the sink."""
    from clinic.reminders.channels import EmailCarrier
    from clinic.reminders.kinds import kind
    from clinic.reminders.letters import recipient_of, write_letter
    from clinic.reminders.models import Message
    from clinic.reminders.queries import waiting, with_recipient

    rows = with_recipient(waiting("email", NOW))[:LETTERS]
    letters = [write_letter(row, kind(row.kind), recipient_of(row)) for row in rows]
    assert len(letters) == LETTERS
    carrier = EmailCarrier()
    carrier.open()

    def straight() -> None:
        for letter in letters:
            carrier.send(letter)

    took = quickest(straight, rounds=2, clock=perf_counter) / LETTERS
    carrier.close()
    Message.objects.filter(pk__in=[row.pk for row in rows]).update(state="skipped", reason="moved")
    return took


@contextmanager
def sink() -> Any:
    """The mail server in a process of its own; its port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        server = multiprocessing.get_context("spawn").Process(target=_serve, args=(port, folder), daemon=True)
        server.start()
        _until(lambda: _answers(port))
        try:
            yield port
        finally:
            server.terminate()
            server.join()


def _serve(port: int, folder: str) -> None:
    from aiosmtpd.controller import UnthreadedController

    class Stored:
        async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
            os.write(box, envelope.content)
            os.fsync(box)
            return "250 stored"

    box = os.open(f"{folder}/box", os.O_CREAT | os.O_WRONLY | os.O_APPEND)
    loop = asyncio.new_event_loop()
    UnthreadedController(Stored(), hostname="127.0.0.1", port=port, loop=loop).begin()
    loop.run_forever()


def _answers(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


def _until(there: Callable[[], bool]) -> None:
    ends = time.monotonic() + 30
    while not there():
        if time.monotonic() > ends:
            raise SystemExit("the sink does not answer")
        time.sleep(0.05)
