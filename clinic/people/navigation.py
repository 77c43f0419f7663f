"""The links at the top of each page, by role."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from clinic.people.vocab import Role

LINKS: dict[str, list[tuple[str, str]]] = {
    Role.FRONT_DESK: [
        ("/booking/", "Today"),
        ("/booking/new/", "Book"),
        ("/booking/waitlist/", "Waitlist"),
        ("/reassessments/", "Reassessments"),
        ("/clients/", "Clients"),
        ("/alerts/", "Alerts"),
        ("/messages/", "Messages"),
    ],
    Role.CLINICIAN: [
        ("/caseload/", "Caseload"),
        ("/booking/", "Today"),
        ("/reassessments/", "Reassessments"),
        ("/suggestions/", "Suggestions"),
        ("/notes/", "Notes"),
        ("/alerts/", "Alerts"),
        ("/clients/", "Clients"),
        ("/library/", "Exercises"),
        ("/templates/", "Templates"),
    ],
    Role.LEAD: [
        ("/caseload/", "Caseload"),
        ("/practice/adherence/", "Adherence"),
        ("/practice/overdue/", "Overdue reviews"),
        ("/practice/progression/", "Progression"),
        ("/booking/", "Today"),
        ("/clients/", "Clients"),
        ("/alerts/", "Alerts"),
        ("/library/", "Exercises"),
        ("/messages/", "Messages"),
        ("/portal/clinic/access/", "Own portal"),
    ],
    Role.CLIENT: [
        ("/portal/", "Today"),
        ("/portal/weeks/", "My weeks"),
        ("/portal/visits/", "My visits"),
        ("/portal/help/", "Something is wrong"),
    ],
}
START: dict[str, str] = {
    Role.FRONT_DESK: "/booking/",
    Role.CLINICIAN: "/caseload/",
    Role.LEAD: "/caseload/",
    Role.CLIENT: "/portal/",
}


def links_for(user: Any, path: str) -> list[dict[str, Any]]:
    """The links of the user's role, the current one marked; none for a visitor."""
    links = LINKS.get(getattr(user, "role", ""), [])
    best = max((url for url, _ in links if path.startswith(url)), key=len, default="")
    return [{"url": url, "label": gettext(label), "here": url == best} for url, label in links]
