"""Who may look at the dashboards: clinicians at their own, the lead at everybody's; nobody else knows they exist."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from tests.access.roles import Row


def _ada(cast: SimpleNamespace) -> dict[str, Any]:
    return {"public_id": cast.ada.public_id}


# fmt: off
#                                                    anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "dashboards:caseload",                (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:caseload_csv",            (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:adherence",               (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:adherence_csv",           (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:course",                  (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:course_csv",              (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:dose",                    (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:dose_csv",                (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:overdue",                 (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:overdue_csv",             (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:progression",             (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:progression_csv",         (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:attendance",              (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:attendance_csv",          (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:hours",                   (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:hours_csv",               (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:outcomes",                (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:outcomes_csv",            (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:timeline",                (302, 404, 404, 404, 200, 404, 200, 302), _ada),
    Row("GET", "dashboards:timeline_csv",            (302, 404, 404, 404, 200, 404, 200, 302), _ada),
]
# fmt: on
