"""What a monitoring system reads of the trail."""

from __future__ import annotations

from datetime import datetime

from clinic.reminders.gauges import register
from clinic.reminders.rules.exposition import Gauge, gauge
from clinic.trust.queries import unsealed


def trail(now: datetime) -> list[Gauge]:
    """Rows that wait for their seal. One query."""
    return [gauge("intervale_trail_unsealed", "Rows of the trail that no seal covers yet", unsealed().count())]


register(trail)
