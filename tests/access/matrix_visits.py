"""Who may do what with reassessments, visit records and measures."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone

from clinic.booking.rules.grid import on_grid
from clinic.people.rules import zones
from clinic.visits.actions.load_measures import load_measures
from clinic.visits.models import Reassessment
from tests.access.roles import Row


def reassessment(cast):
    row, _ = Reassessment.objects.get_or_create(
        episode=cast.ada_hip, reason="kick_off_end", defaults={
            "earliest": _monday().date(), "due": _monday().date(), "latest": _monday().date(), "planned_at": timezone.now(),
            "planned_by": cast.mina.user,
        },
    )
    return {"public_id": row.public_id}


def episode(cast):
    load_measures()
    return {"public_id": cast.ada_hip.public_id}


def _monday() -> datetime:
    """Ten o'clock on a working day ahead, in the site's zone."""
    day = timezone.now().date() + timedelta(days=7)
    start = zones.instant(day - timedelta(days=day.weekday() - 7), datetime.min.time().replace(hour=10), "Europe/London")
    assert on_grid(start)
    return start


def booking(cast):
    return {"start": _monday().isoformat(), "clinician": str(cast.mina.public_id)}


def of_ada(cast):
    return {"episode": str(cast.ada_hip.public_id)}


def result(cast):
    return {"measure": "pain-now", "values": [3]}


# fmt: off
#                                                anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "visits:reassessments",           (302, 404, 404, 200, 200, 200, 200, 302)),
    Row("GET", "visits:book",                    (302, 404, 404, 200, 200, 404, 404, 302), make=reassessment),
    Row("POST", "visits:book",                   (302, 404, 404, 302, 302, 404, 404, 302), make=reassessment, body=booking),
    Row("GET", "visits:plan",                    (302, 404, 404, 200, 200, 200, 200, 302)),
    Row("POST", "visits:plan",                   (302, 404, 404, 200, 200, 200, 200, 302), body=lambda cast: {"do": "plan"}),
    Row("POST", "visits:plan",                   (302, 404, 404, 302, 302, 302, 404, 302), body=lambda cast: {"do": "book"}),
    Row("GET", "visits:book_several",            (302, 404, 404, 200, 200, 200, 404, 302)),
    Row("POST", "visits:book_several",           (302, 404, 404, 302, 302, 302, 404, 302)),
    Row("GET", "visits:new",                     (302, 404, 404, 404, 200, 404, 404, 302), query=of_ada),
    Row("POST", "visits:new",                    (302, 404, 404, 404, 302, 404, 404, 302),
        body=lambda cast: {**of_ada(cast), "note": "Seen."}),
    Row("GET", "visits:measures",                (302, 404, 404, 404, 200, 404, 200, 302), make=episode),
    Row("GET", "api:reassessments",              (401, 404, 404, 200, 200, 200, 200, 401)),
    Row("POST", "api:book_reassessment",         (401, 404, 404, 201, 201, 404, 404, 401), make=reassessment, body=booking),
    Row("POST", "api:results",                   (401, 404, 404, 404, 201, 404, 404, 401), make=episode, body=result),
]
# fmt: on
