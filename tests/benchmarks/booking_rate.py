"""How many visits a second the booking action books on PostgreSQL, one after another.

Yardstick: bare INSERTs of the very rows it leaves (appointment, claims, audit, message), in as many
transactions, by executemany on the same connection. Through HTTP is reported beside.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta

from tests.benchmarks.common import Measured

SETTING = "postgres"
VISITS = 200
NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
TABLES = ("booking_appointment", "booking_claim", "people_auditevent", "reminders_message")


def practice():
    """A site with one clinician, a room and a desk, and as many clients as visits."""
    from clinic.booking.models import Room, VisitType, WorkingHours
    from clinic.people.models import Client, Site, Staff, User
    from clinic.people.vocab import Role

    site = Site.objects.create(name="Bench", zone="UTC", phone="+441632960100", emergency_number="999", region_code="GB")
    staff = []
    for name, role in (("Desk", Role.FRONT_DESK), ("Clinician", Role.CLINICIAN)):
        person = Staff.objects.create(user=User.objects.create_user(f"{name}@bench.example", role), name=name)
        person.sites.add(site)
        staff.append(person)
    WorkingHours.objects.create(
        clinician=staff[1], site=site, rule="FREQ=DAILY", first_day=date(2026, 1, 1), starts=time(8), ends=time(18)
    )
    Room.objects.create(site=site, name="Room", features=["table"])
    kind = VisitType.objects.create(code="follow-up", name="Follow-up", minutes=25, cleanup_minutes=5)
    clients = Client.objects.bulk_create(Client(site=site, given_name=f"C{n}", zone="UTC") for n in range(3 * VISITS))
    return staff[0].user, staff[1], kind, clients


def starts(first: int):
    """A half hour for each visit: twenty a day."""
    for number in range(first, first + VISITS):
        yield NOW.replace(hour=8) + timedelta(days=1 + number // 20, minutes=30 * (number % 20))


def measure() -> list[Measured]:
    """Seconds a visit on the wall: the server's share counts."""
    from time import perf_counter

    from django.conf import settings
    from django.db import connection
    from django.test import Client as Browser
    from django.utils import timezone

    from clinic.booking.actions.book_visit import book_visit

    settings.ALLOWED_HOSTS = ["testserver"]
    by, clinician, kind, clients = practice()
    marks = {table: _last(connection, table) for table in TABLES}
    begun = perf_counter()
    for client, start in zip(clients, starts(0), strict=False):
        book_visit(by=by, client=client, visit_type=kind, clinician=clinician, start=start, now=NOW)
    took = (perf_counter() - begun) / VISITS
    rows = {table: _rows(connection, table, marks[table]) for table in TABLES}
    with connection.cursor() as cursor:
        cursor.execute(f"TRUNCATE {', '.join(TABLES)} CASCADE")
    bare = min(_insert_all(connection, rows) for _ in range(2))
    browser, day = Browser(), timezone.now().replace(hour=8, minute=0, second=0, microsecond=0) + timedelta(days=400)
    browser.force_login(by)
    begun = perf_counter()
    for number, client in enumerate(clients[VISITS:2 * VISITS]):
        start = day + timedelta(days=number // 20, minutes=30 * (number % 20))
        body = {"client": str(client.public_id), "clinician": str(clinician.public_id), "visit_type": kind.code,
                "start": start.isoformat()}
        answer = browser.post("/api/v1/appointments", json.dumps(body), content_type="application/json")
        if answer.status_code != 201:
            raise SystemExit(f"HTTP booking answered {answer.status_code}: {answer.content[:200]!r}")
    http = (perf_counter() - begun) / VISITS
    return [
        Measured("booking a visit on PostgreSQL", took, "bare INSERTs of its rows in one transaction", bare, most=3.0),
        Measured("… through HTTP", http, "the same", bare),
    ]


def _last(connection, table: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COALESCE(MAX(id), 0) FROM {table}")
        return int(cursor.fetchone()[0])


def _rows(connection, table: str, after: int):
    """Column names and the rows, in groups of one visit each."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {table} WHERE id > %s ORDER BY id", [after])
        names, found = [column.name for column in cursor.description], cursor.fetchall()
    size = len(found) // VISITS
    return names, [found[at:at + size] for at in range(0, size * VISITS, size)]


def _insert_all(connection, rows) -> float:
    """Seconds a visit: each in a transaction of its own; the tables are emptied afterwards."""
    from time import perf_counter

    from django.db import transaction
    from psycopg.types.json import Jsonb

    begun = perf_counter()
    for number in range(VISITS):
        with transaction.atomic(), connection.cursor() as cursor:
            for table, (names, groups) in rows.items():
                marks = ", ".join(["%s"] * len(names))
                if groups:
                    values = [[Jsonb(each) if isinstance(each, dict) else each for each in row] for row in groups[number]]
                    cursor.executemany(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", values)
    took = (perf_counter() - begun) / VISITS
    with connection.cursor() as cursor:
        cursor.execute(f"TRUNCATE {', '.join(TABLES)} CASCADE")
    return took
