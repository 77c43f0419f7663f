"""The part of a client's page that leads to the timelines; for clinicians and leads only."""

from __future__ import annotations

from typing import Any

from clinic.people import sections
from clinic.people.queries import episodes_for
from dashboards.pages.asking import VIEWERS

MOST = 8


def build(user: Any, client: Any) -> dict[str, Any] | None:
    """The client's episodes, the newest first. None for the front desk and without any."""
    if user.role not in VIEWERS:
        return None
    episodes = list(episodes_for(user).filter(client=client).order_by("-opened", "-pk")[:MOST])
    return {"client": client, "episodes": episodes} if episodes else None


sections.register(sections.Section(order=50, template="dashboards/client_section.html", build=build))
