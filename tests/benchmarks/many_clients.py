"""The pages that are open all day, and a sweep of the outbox, at 100,000 clients against 1,000, on PostgreSQL.

The people are those of `big_practice.py` with a month of visits, programs and logs each, every family name made different by
a number. Times are processor time of this process and its database process together (see dashboards.py). What a row of each
log takes, its indexes included, is reported for whoever plans how much disk there must be. INTERVALE_BENCH_CLIENTS measures
fewer clients (hundreds).
"""

from __future__ import annotations

import os
from typing import Any

from tests.benchmarks.common import Measured

SETTING = "postgres"
SMALL, LARGE = 1_000, int(os.environ.get("INTERVALE_BENCH_CLIENTS", "100000"))
LOGS = {
    "people_auditevent": "event of the trail", "reminders_message": "message", "following_sessionlog": "logged session",
    "following_itemlog": "logged exercise", "following_dayrecord": "day of a program",
}


def measure() -> list[Measured]:
    """Each page and the sweep at both sizes; then the rows of the logs."""
    import time_machine
    from django.conf import settings

    from tests.benchmarks.big_practice import NOW, PATTERN, grow, pattern

    settings.ALLOWED_HOSTS = ["*"]
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    pattern(months=1)
    grow(have=PATTERN, want=SMALL)
    with time_machine.travel(NOW, tick=False):
        small = pages()
    grow(have=SMALL, want=LARGE)
    with time_machine.travel(NOW, tick=False):
        large = pages()
    found = [
        Measured(f"{name}, {LARGE:,} clients", took, f"{SMALL:,} clients", small[name], 1.5) for name, took in large.items()
    ]
    return found + [
        Measured(f"one {name} on the disk", size, "a kilobyte", 1000, unit="bytes") for name, size in row_sizes().items()
    ]


def pages() -> dict[str, float]:
    """Seconds of each, for the desk and a clinician."""
    from django.utils import timezone

    from clinic.people.models import Client
    from clinic.reminders.actions.deliver_due import deliver_due
    from tests.benchmarks.dashboards import _browser, _timed

    _tell_apart()
    client = Client.objects.order_by("-pk")[0]
    desk, clinician, name = _browser("front_desk"), _browser("clinician"), f"{client.given_name} {client.family_name}"
    asked = {"text": f"{name} follow-up next week"}

    def sweep() -> None:
        while deliver_due(now=timezone.now(), worker="bench"):
            pass

    sweep()
    return {
        "the desk's day": _timed(lambda: _answered(desk.get("/booking/"))),
        "a clinician's caseload": _timed(lambda: _answered(clinician.get("/caseload/"))),
        "finding a client by name": _timed(lambda: _answered(desk.get("/clients/", {"q": name}))),
        "asking in words for a visit": _timed(lambda: _answered(desk.post("/booking/new/", asked))),
        "a sweep that finds nothing due": _timed(sweep),
    }


def _answered(answer: Any) -> None:
    if answer.status_code != 200:
        raise SystemExit(f"{answer.request['PATH_INFO']} answers {answer.status_code}")


def _tell_apart() -> None:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("UPDATE people_client SET family_name = split_part(family_name, ' ', 1) || ' ' || id")
        cursor.execute("VACUUM ANALYZE people_client")


def row_sizes() -> dict[str, float]:
    """Bytes of a row of each log, with its share of the indexes; of those with enough rows to say so."""
    from django.db import connection

    sizes = {}
    with connection.cursor() as cursor:
        for table, name in LOGS.items():
            cursor.execute(f"SELECT pg_total_relation_size('{table}'), count(*) FROM {table}")
            size, rows = cursor.fetchone()
            if rows >= 1000:
                sizes[name] = size / rows
    return sizes
