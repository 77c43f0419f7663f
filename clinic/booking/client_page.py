"""The visits on a client's page."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from clinic.booking import wording
from clinic.booking.queries import visits_of
from clinic.people import sections
from clinic.people.models import Client, User


def build(user: User, client: Client) -> dict[str, Any] | None:
    """The coming visits and the last few, of what the user may see."""
    coming, past = visits_of(user, client, timezone.now())
    return {
        "client": client,
        "zone": client.site.zone,
        "coming": [(visit, wording.SHAPES[visit.status]) for visit in coming],   # type: ignore[index]
        "past": [(visit, wording.SHAPES[visit.status]) for visit in past],   # type: ignore[index]
    }


sections.register(sections.Section(order=20, template="booking/client_section.html", build=build))
