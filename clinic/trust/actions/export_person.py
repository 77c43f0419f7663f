"""Hand out everything about one person."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from clinic.trust import export

Extra = Callable[[Client], tuple[str, str]]   # (file name, text)
_extras: list[Extra] = []


def register_extra(extra: Extra) -> None:
    """Let an app above add a file to the export, in a form of its own."""
    if extra not in _extras:
        _extras.append(extra)


@transaction.atomic
def export_person(*, by: User, client: Client, now: datetime) -> bytes:
    """The ZIP file of clinic.trust.export. For the lead, and for the client themselves; noted in the trail."""
    own = by.role == Role.CLIENT and client.user_id == by.pk
    if not own and by.role != Role.LEAD:
        raise NotThere
    file = export.written(client, dict(extra(client) for extra in _extras), now)
    audit.record(by=by, verb="export_person", kind="client", public_id=client.public_id, at=now, client=client)
    return file
