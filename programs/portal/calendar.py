"""A visit as an iCalendar file (RFC 5545) whose title gives nothing away on a shared screen."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _
from icalendar import Calendar, Event


def visit_file(visit: Any, now: datetime) -> bytes:
    """One VEVENT; `visit` is an appointment with its site. A later file replaces an earlier one."""
    event = Event()
    event.add("uid", f"{visit.public_id}@intervale")
    event.add("sequence", visit.version - 1)
    event.add("dtstamp", now)
    event.add("dtstart", visit.starts)
    event.add("dtend", visit.ends)
    event.add("summary", _("Appointment"))
    event.add("location", visit.site.name)
    event.add("status", "TENTATIVE" if visit.status == "pending" else "CONFIRMED")
    calendar = Calendar()
    calendar.add("prodid", "-//Intervale//Portal//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add_component(event)
    return bytes(calendar.to_ical())
