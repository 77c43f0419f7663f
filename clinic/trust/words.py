"""The trail in words."""

from __future__ import annotations

from clinic.people.models import AuditEvent, User
from clinic.people.vocab import Role


def what(event: AuditEvent) -> str:
    """What was done, from the verb of the action: `book_visit` reads "Book visit"; a look names the page."""
    if event.verb == "look":
        page = event.record.partition(":")[2].rpartition(":")[2]
        return f"Looked at: {page.replace('_', ' ')}"
    return event.verb.replace("_", " ").capitalize()


def who(user: User) -> str:
    """The name of a member of staff, or the role."""
    staff = getattr(user, "staff", None)
    return staff.name if staff else str(Role(user.role).label)
