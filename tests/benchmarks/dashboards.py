"""How long the dashboards take at a big practice: 10,000 open programs with twelve months of logs, on PostgreSQL.

Times are processor time of this process and of its database process together (the kernel's count in /proc, so the server
must be on this machine), the quickest of some rounds: neighbours that keep both waiting do not count. Yardsticks: a view that
does nothing but send the same bytes to somebody signed in, behind the same middleware; the same page of a tenth of it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import Any

from tests.benchmarks.common import Measured, quickest

SETTING = "postgres"
SMALL, LARGE = 1_000, 10_000
CHARTS = {
    "adherence": "/practice/adherence/", "dose and exercises": "/practice/dose/", "overdue reviews": "/practice/overdue/",
    "progression": "/practice/progression/", "course over the months": "/practice/course/",
    "outcomes": "/practice/outcomes/", "no-shows": "/practice/no-shows/", "hours and load": "/practice/hours/",
}
MOST_SECONDS, MOST_JSON = 0.3, 200.0
ROUNDS = 12


def measure() -> list[Measured]:
    """The caseload against a bare view, flat in growth; each chart's page, its growth and its figures' size."""
    import time_machine
    from django.conf import settings

    from tests.benchmarks.big_practice import NOW, PATTERN, grow, pattern

    settings.ALLOWED_HOSTS = ["*"]
    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    pattern()
    grow(have=PATTERN, want=SMALL)
    with time_machine.travel(NOW, tick=False):
        small = {name: _took("lead", address)[0] for name, address in CHARTS.items()}
        small_caseload = _took("clinician", "/caseload/")[0]
    grow(have=SMALL, want=LARGE)
    with time_machine.travel(NOW, tick=False):
        caseload, body = _took("clinician", "/caseload/")
        bare = _bare(body)
        large = {name: _took("lead", address) for name, address in CHARTS.items()}
    found = [
        Measured("a clinician's caseload, first page, 10,000 programs", caseload, "a bare view, same bytes", bare, 10.0),
        Measured("the same caseload, 10,000 programs", caseload, "1,000 programs", small_caseload, 1.5),
    ]
    for name, (took, page) in large.items():
        found.append(Measured(f"chart page {name}, 10,000 programs", took, "1,000 programs", small[name], 10.0, MOST_SECONDS))
        found.append(Measured(
            f"figures of {name}", _figures(page), "the most that is promised", MOST_JSON, most_took=MOST_JSON, unit="kB"
        ))
    return found


def _browser(role: str) -> Any:
    from django.test import Client

    from clinic.people.models import User

    browser = Client()
    browser.force_login(User.objects.filter(role=role, is_active=True).order_by("pk").last())
    return browser


def _clock() -> Callable[[], float]:
    """Processor seconds of this process and of the database process that works for it, which works alone."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SET max_parallel_workers_per_gather = 0")
        cursor.execute("SELECT pg_backend_pid()")
        held = Path(f"/proc/{cursor.fetchone()[0]}/schedstat")
    return lambda: process_time() + int(held.read_text().split()[0]) / 1e9


def _timed(work: Callable[[], object]) -> float:
    work()
    return quickest(work, rounds=ROUNDS, clock=_clock())


def _took(role: str, address: str) -> tuple[float, bytes]:
    browser = _browser(role)
    answer = browser.get(address)
    if answer.status_code != 200:
        raise SystemExit(f"{address} answers {answer.status_code}")
    return _timed(lambda: browser.get(address)), answer.content


def _bare(body: bytes) -> float:
    """The time of a page that sends these bytes to a clinician and does nothing else."""
    from django.http import HttpResponse
    from django.urls import clear_url_caches, path

    from clinic.people.access import page
    from clinic.people.vocab import Role
    from clinic.project import urls

    urls.urlpatterns.append(path("bare/", page(Role.CLINICIAN)(lambda request: HttpResponse(body)), name="bare"))
    clear_url_caches()
    return _took("clinician", "/bare/")[0]


def _figures(page: bytes) -> float:
    """Kilobytes of the JSON of all figures on a page together."""
    import re

    found = re.findall(rb'<script id="figure-[^"]*" type="application/json">(.*?)</script>', page, re.DOTALL)
    return sum(map(len, found)) / 1000
