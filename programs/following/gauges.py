"""What a monitoring system reads of the alerts: how many are open, not whose."""

from __future__ import annotations

from datetime import datetime

from clinic.reminders.gauges import register
from clinic.reminders.rules.exposition import Gauge, gauge
from programs.following.queries import open_alerts


def alerts(now: datetime) -> list[Gauge]:
    """Alerts that no clinician has closed. One query."""
    return [gauge("intervale_alerts_open", "Red-flag answers that no clinician has closed yet", open_alerts())]


register(alerts)
