"""Who may look at the dashboards: clinicians at their own, the lead at everybody's; nobody else knows they exist."""

from __future__ import annotations

from tests.access.roles import Row

# fmt: off
#                                                    anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "dashboards:caseload",                (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:caseload_csv",            (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:adherence",               (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:adherence_csv",           (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:overdue",                 (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:overdue_csv",             (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:progression",             (302, 404, 404, 404, 200, 200, 200, 302)),
    Row("GET", "dashboards:progression_csv",         (302, 404, 404, 404, 200, 200, 200, 302)),
]
# fmt: on
