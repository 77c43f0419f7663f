"""Who may open a record beyond a caseload, and read the trail."""

from __future__ import annotations

from django.utils import timezone

from clinic.trust.actions.open_record import open_record
from tests.access.matrix_people import ada
from tests.access.roles import Row


def opening(cast):
    """Theo opens Ada's record, who is Mina's client."""
    return open_record(
        by=cast.theo.user, name="Ada Quill", born=cast.ada.birth_date, reason="Standing in for Mina today.",
        now=timezone.now(),
    )


def opened(cast):
    return {"public_id": opening(cast).public_id}


def asking(cast):
    return {"name": "Bo Marsh", "born": "1984-05-17", "reason": "Standing in for Theo today."}


# fmt: off
#                                              anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "trust:open",                   (302, 404, 404, 404, 200, 200, 404, 302)),
    # Bo is Theo's own client, so there is nothing to open for him
    Row("POST", "trust:open",                  (302, 404, 404, 404, 302, 400, 404, 302), body=asking),
    Row("GET", "trust:openings",               (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("POST", "trust:end_opening",           (302, 404, 404, 404, 404, 302, 302, 302), make=opened),
    Row("GET", "trust:client_trail",           (302, 404, 404, 404, 404, 404, 200, 302), make=ada),
    Row("POST", "trust:export_client",         (302, 404, 404, 404, 404, 404, 200, 302), make=ada),
    Row("POST", "trust:export_own",            (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "trust:erase_client",           (302, 404, 404, 404, 404, 404, 200, 302), make=ada),
    Row("POST", "trust:erase_client",          (302, 404, 404, 404, 404, 404, 302, 302), make=ada,
        body=lambda cast: {"name": "Ada Quill"}),
    # her program goes on: the page says so
    Row("POST", "trust:move_away",             (302, 404, 404, 404, 404, 404, 302, 302), make=ada),
    Row("GET", "trust:keep",                   (302, 404, 404, 404, 404, 404, 200, 302), make=ada),
    Row("POST", "trust:keep",                  (302, 404, 404, 404, 404, 404, 302, 302), make=ada,
        body=lambda cast: {"why": "A complaint goes on"}),
    Row("GET", "trust:away",                   (302, 404, 404, 404, 404, 404, 200, 302)),
    Row("GET", "trust:retention",              (302, 404, 404, 404, 404, 404, 200, 302)),
    Row("POST", "trust:retention",             (302, 404, 404, 404, 404, 404, 302, 302),
        body=lambda cast: {"record_years": "10"}),
    Row("GET", "trust:trail",                  (302, 404, 404, 404, 404, 404, 200, 302)),
    Row("POST", "trust:trail",                 (302, 404, 404, 404, 404, 404, 200, 302)),
]
# fmt: on
