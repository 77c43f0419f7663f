"""Put a client on the waitlist."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time

from django.db import IntegrityError, transaction

from clinic.booking.checking import check_people
from clinic.booking.models import VisitType, WaitlistEntry
from clinic.booking.vocab import Priority
from clinic.people import audit
from clinic.people.models import Client, Staff, User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones


@transaction.atomic
def join_waitlist(
    *, by: User, client: Client, visit_type: VisitType, priority: int, now: datetime, clinician: Staff | None = None,
    weekdays: Iterable[int] = (), earliest: time | None = None, latest: time | None = None, until: date | None = None,
) -> WaitlistEntry:
    """Write the wish down. An empty wish leaves it open.

    Refusals: `invalid` (400) with the fields; `client_archived`, `waits_already` (409) for the same kind of visit.
    """
    days = sorted(set(weekdays))
    wrong: dict[str, str] = {}
    if priority not in Priority.values:
        wrong["priority"] = "Say how soon it should be."
    if any(day not in range(7) for day in days):
        wrong["weekdays"] = "Choose days of the week."
    if earliest and latest and latest <= earliest:
        wrong["latest"] = "Choose a time after the first."
    if until and until < zones.day_in(now, client.site.zone):
        wrong["until"] = "That day is over."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    if clinician is not None:
        check_people(client, clinician, None, visit_type, None)
    elif client.archived:
        raise Refusal("client_archived", "This client is archived. Bring the record back first.", status=409)
    try:
        with transaction.atomic():
            entry = WaitlistEntry.objects.create(
                client=client, visit_type=visit_type, clinician=clinician, weekdays=days, earliest=earliest, latest=latest,
                until=until, priority=priority, at=now, by=by,
            )
    except IntegrityError as error:
        raise Refusal(
            "waits_already", f"{client.given_name} waits for a {visit_type.name.lower()} already.", status=409
        ) from error
    audit.record(
        by=by, verb="join_waitlist", kind="waitlist", public_id=entry.public_id, at=now, client=client, priority=priority
    )
    return entry
