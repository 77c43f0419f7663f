"""Many at once book, move, cancel and bring back visits at random; then the history is replayed.

`python -m tests.booking.history --clients 200 --seconds 60` runs it in full on the engine that INTERVALE_DATABASE names
(SQLite without), on a database of its own. All clients are there at once, each a thread; on PostgreSQL they take turns at
fewer connections (`--connections`), as the threads of a web server with a pool do. Each attempt is noted by whoever made it,
with the answer. The record of what was done (Change and audit rows, in the order in which their transactions held the locks)
is then walked through: after every commit no two visits that hold time may share a clinician, a room or a client; at the end
the book must hold exactly what was acknowledged.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import random
import sys
import tempfile
import threading
import time
from collections import Counter
from contextlib import contextmanager, nullcontext
from datetime import UTC, date, datetime, timedelta
from datetime import time as wall
from pathlib import Path
from types import SimpleNamespace
from urllib.parse import urlsplit

ROOT = Path(__file__).resolve().parents[2]
DAYS, PEOPLE = 4, 40
PAUSE = 0.02   # seconds between one client's attempts, so that all have their turn
HOLDING = {"pending", "booked", "arrived", "checked-in", "fulfilled"}


def practice():
    """Two clinicians, two rooms, forty clients, hours every day: little enough that everybody is in each other's way."""
    from clinic.booking.models import Room, VisitType, WorkingHours
    from clinic.people.models import Client, Site, Staff, User
    from clinic.people.vocab import Role

    site = Site.objects.create(name="History", zone="UTC", phone="+441632960100", emergency_number="999", region_code="GB")
    for name, role in (("Desk", Role.FRONT_DESK), ("One", Role.CLINICIAN), ("Two", Role.CLINICIAN)):
        person = Staff.objects.create(user=User.objects.create_user(f"{name}@history.example", role), name=name)
        person.sites.add(site)
        if role == Role.CLINICIAN:
            WorkingHours.objects.create(
                clinician=person, site=site, rule="FREQ=DAILY", first_day=date(2020, 1, 1), starts=wall(8), ends=wall(18)
            )
    Room.objects.create(site=site, name="Room 1", features=["table"])
    Room.objects.create(site=site, name="Room 2", features=["table"])
    VisitType.objects.create(code="follow-up", name="Follow-up", minutes=25, cleanup_minutes=5)
    VisitType.objects.create(code="first", name="First", minutes=50, cleanup_minutes=10)
    Client.objects.bulk_create(Client(site=site, given_name=f"C{n}", zone="UTC") for n in range(PEOPLE))


def act(seed: int, seconds: float, turn=nullcontext) -> tuple[Counter, dict[str, int]]:
    """What one of the many does until the time is over: counts of the answers, and the versions acknowledged by visit.
    Whatever asks the database does it in a `turn()`."""
    from django.db import connection

    dice, counts, known = random.Random(seed), Counter(), {}
    until = time.monotonic() + seconds
    with turn():
        cast = people()
    while time.monotonic() < until:
        with turn():
            attempt(dice, cast, counts, known)
        if connection.in_atomic_block:
            raise RuntimeError("a transaction was left open")
    return counts, known


def people() -> SimpleNamespace:
    """Who and what there is to book."""
    from clinic.booking.models import VisitType
    from clinic.people.models import Client, Staff, User
    from clinic.people.vocab import Role

    return SimpleNamespace(
        by=User.objects.get(role=Role.FRONT_DESK), clinicians=list(Staff.objects.filter(user__role=Role.CLINICIAN)),
        clients=list(Client.objects.select_related("site")), kinds=list(VisitType.objects.all()),
    )


def attempt(dice: random.Random, cast: SimpleNamespace, counts: Counter, known: dict[str, int]) -> None:
    """One thing tried, and what came of it."""
    from clinic.booking.actions.book_visit import book_visit
    from clinic.booking.actions.cancel_visit import cancel_visit
    from clinic.booking.actions.mark_visit import mark_visit
    from clinic.booking.actions.move_visit import move_visit
    from clinic.booking.models import Appointment
    from clinic.people.refusal import Refusal

    now = datetime.now(UTC)
    start = now.replace(hour=8, minute=0, second=0, microsecond=0) + timedelta(
        days=dice.randint(1, DAYS), minutes=15 * dice.randrange(38)
    )
    visit = None
    what = dice.choice(("book", "move", "move", "cancel", "back"))
    if what != "book":
        pks = list(Appointment.objects.values_list("pk", flat=True))
        visit = Appointment.objects.select_related("site", "client__site", "clinician__user", "room", "visit_type").get(
            pk=dice.choice(pks)) if pks else None
        if visit is None:
            return
    try:
        if what == "book":
            done = book_visit(by=cast.by, client=dice.choice(cast.clients), visit_type=dice.choice(cast.kinds),
                              clinician=dice.choice(cast.clinicians), start=start, now=now)
        elif what == "move":
            done = move_visit(by=cast.by, appointment=visit, start=start, now=now, clinician=dice.choice(cast.clinicians))
        elif what == "cancel":
            done = cancel_visit(by=cast.by, appointment=visit, reason="client", now=now)
        else:
            done = mark_visit(by=cast.by, appointment=visit, status="booked", now=now)
    except Refusal as refusal:
        counts[f"{what} {refusal.code}"] += 1
        return
    counts[f"{what} done"] += 1
    known[str(done.public_id)] = max(known.get(str(done.public_id), 0), done.version)


def state(values: dict) -> dict:
    """Who and when of a visit as plain values."""
    names = ("status", "clinician_id", "room_id", "starts", "ends", "busy_from", "busy_until")
    return {name: datetime.fromisoformat(values[name]) if isinstance(values[name], str) and name != "status" else values[name]
            for name in names}


def replayed() -> dict[str, int]:
    """Walk through the history backwards from the book as it stands; ValueError at the first overlap or contradiction.

    A change notes what was before, so that the book after each commit is known, from the last to the first.
    """
    from clinic.booking.models import Appointment, Change, Claim
    from clinic.people.models import AuditEvent

    rows = list(Appointment.objects.all())
    book = {row.pk: state(row.__dict__) | {"client_id": row.client_id} for row in rows}
    check_claims(rows, Claim)
    by_record = {f"appointment:{row.public_id}": row.pk for row in rows}
    before = {}
    for change in Change.objects.order_by("pk"):
        before.setdefault(change.appointment_id, []).append(change)
    events = list(AuditEvent.objects.filter(record__startswith="appointment:").order_by("pk"))
    steps = 0
    check_book(book)
    for event in reversed(events):
        visit = by_record[event.record]
        if event.verb == "book_visit":
            if before.get(visit):
                raise ValueError(f"{event.record}: changes from before it was booked")
            del book[visit]
        else:
            book[visit] |= state(before[visit].pop().before)
            check_one(book, visit)
        steps += 1
    if book:
        raise ValueError(f"{len(book)} visits that nobody booked")
    return {"commits": steps, "visits": len(rows), "holding": sum(row.status in HOLDING for row in rows)}


def check_one(book: dict, visit: int) -> None:
    """The visit as it was meets no other that held time then."""
    mine = book[visit]
    if mine["status"] not in HOLDING:
        return
    for other, theirs in book.items():
        if other != visit and theirs["status"] in HOLDING and meet(mine, theirs):
            raise ValueError(f"visits {visit} and {other} overlap: {mine} {theirs}")


def check_book(book: dict) -> None:
    """No two of all."""
    for visit in book:
        check_one(book, visit)


def meet(one: dict, other: dict) -> bool:
    """Whether two visits share a person or a room at one time."""
    shared = one["clinician_id"] == other["clinician_id"] or one["room_id"] == other["room_id"]
    busy = one["busy_from"] < other["busy_until"] and other["busy_from"] < one["busy_until"]
    client = one["client_id"] == other["client_id"] and one["starts"] < other["ends"] and other["starts"] < one["ends"]
    return (shared and busy) or client


def check_claims(rows, claims) -> None:
    """Every cell that a visit holds is claimed for it, and no other."""
    from clinic.booking import claiming

    wanted = {
        (row.pk, resource, key, cell)
        for row in rows if row.status in HOLDING for resource, key, cells in claiming.needs(row) for cell in cells
    }
    if wanted != set(claims.objects.values_list("appointment_id", "resource", "resource_id", "cell")):
        raise ValueError("claims and visits differ")


def check_known(known: list[dict[str, int]]) -> int:
    """Every visit that was acknowledged is there, at the version acknowledged or a later one; how many."""
    from clinic.booking.models import Appointment

    there = {str(row): version for row, version in Appointment.objects.values_list("public_id", "version")}
    told: dict[str, int] = {}
    for each in known:
        for visit, version in each.items():
            told[visit] = max(version, told.get(visit, 0))
    lost = {visit for visit, version in told.items() if there.get(visit, 0) < version}
    if lost or set(there) - set(told):
        raise ValueError(f"lost: {sorted(lost)}, never acknowledged: {sorted(set(there) - set(told))}")
    return len(told)


def _one_process(job: tuple[int, int, int, float, str]) -> None:
    """Some of the clients as threads of one process; what they saw goes into a file."""
    from concurrent.futures import ThreadPoolExecutor

    import django

    seed, clients, places, seconds, out = job
    os.environ["INTERVALE_DATABASE_POOL"] = str(places)
    django.setup()
    from django.db import connection

    free, started = threading.BoundedSemaphore(places), threading.Barrier(clients)
    pooled = connection.vendor == "postgresql"

    @contextmanager
    def turn():
        with free if pooled else nullcontext():
            try:
                yield
            finally:
                if pooled:
                    connection.close()   # back to the pool
        time.sleep(PAUSE)   # somebody else has their turn

    def one(number: int):
        started.wait()   # all of them are there before the first does anything
        try:
            return act(seed * 1000 + number, seconds, turn)
        finally:
            connection.close()

    with ThreadPoolExecutor(clients) as pool:
        seen = list(pool.map(one, range(clients)))
    Path(out).write_text(json.dumps([[dict(counts), known] for counts, known in seen]))


def run(clients: int, seconds: float, processes: int, connections: int) -> None:
    """All of it, on the database that the settings name, which must be empty."""
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0)
    practice()
    connection.close()
    with tempfile.TemporaryDirectory() as folder:
        share = [clients // processes + (number < clients % processes) for number in range(processes)]
        places = max(connections // processes, 1)
        jobs = [(number, size, places, seconds, f"{folder}/{number}.json") for number, size in enumerate(share)]
        workers = [multiprocessing.get_context("spawn").Process(target=_one_process, args=(job,)) for job in jobs]
        for worker in workers:
            worker.start()
        for worker in workers:
            worker.join()
        if any(worker.exitcode for worker in workers):
            raise SystemExit("A worker ended in an error.")
        seen = [each for job in jobs for each in json.loads(Path(job[4]).read_text())]
    counts = sum((Counter(each) for each, _ in seen), Counter())
    figures = replayed() | {"acknowledged": check_known([known for _, known in seen])}
    busy = sum(bool(each) for each, _ in seen)
    print(f"{connection.vendor}: {clients} clients, {seconds:g} s, {sum(counts.values())} attempts by {busy} of them")
    print(", ".join(f"{name} {count}" for name, count in sorted(counts.items())))
    print(f"{figures['commits']} commits replayed, no overlap at any")
    print(f"{figures['acknowledged']} visits acknowledged, none lost; {figures['holding']} in the book")


def main() -> None:
    """On a database of its own, dropped afterwards."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--clients", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--processes", type=int, default=4)
    parser.add_argument("--connections", type=int, default=48, help="to PostgreSQL, shared by all clients")
    asked = parser.parse_args()
    server = os.environ.get("INTERVALE_DATABASE", "")
    os.environ |= {"DJANGO_SETTINGS_MODULE": "clinic.project.settings", "INTERVALE_PREPARED": "1"}
    with tempfile.TemporaryDirectory() as folder:
        os.environ["INTERVALE_DATA"] = folder
        if not server:
            run(asked.clients, asked.seconds, asked.processes, asked.connections)
            return
        import psycopg

        name = f"intervale_history_{os.getpid()}"
        with psycopg.connect(server, autocommit=True) as admin:
            admin.execute(f'CREATE DATABASE "{name}"')
            try:
                os.environ["INTERVALE_DATABASE"] = urlsplit(server)._replace(path=f"/{name}").geturl()
                run(asked.clients, asked.seconds, asked.processes, asked.connections)
            finally:
                admin.execute(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
