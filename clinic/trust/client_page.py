"""The lead's part of a client's page: the way to who did and saw what."""

from __future__ import annotations

from typing import Any

from clinic.people import sections
from clinic.people.vocab import Role


def build(user: Any, client: Any) -> dict[str, Any] | None:
    """For the lead only."""
    return {"client": client} if user.role == Role.LEAD else None


sections.register(sections.Section(order=90, template="trust/client_section.html", build=build))
