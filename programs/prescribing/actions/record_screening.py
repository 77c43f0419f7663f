"""Keep what a client answered before exercise is prescribed."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from programs.prescribing.models import Screening
from programs.prescribing.vocab import Disease, Intensity, ScreeningFlag, Sign

MOST_NOTE = 300   # characters
CHOICES = {"diseases": Disease, "signs": Sign, "red_flags": ScreeningFlag}


@transaction.atomic
def record_screening(
    *,
    by: User,
    client: Client,
    active: bool,
    intensity: str,
    diseases: Collection[str],
    signs: Collection[str],
    red_flags: Collection[str],
    now: datetime,
    cleared_on: date | None = None,
    note: str = "",
) -> Screening:
    """A new screening, asked today by `by`; the earlier ones stay. Refusal: `invalid` (400) names the fields."""
    today, note = zones.day_in(now, client.zone), note.strip()
    wrong = {}
    for name, codes in (("diseases", diseases), ("signs", signs), ("red_flags", red_flags)):
        if strange := sorted(set(codes) - set(CHOICES[name].values)):
            wrong[name] = f"{strange[0]} is not an answer we know."
    if intensity not in Intensity.values:
        wrong["intensity"] = f"Choose one of {', '.join(Intensity.values)}."
    if cleared_on is not None and cleared_on > today:
        wrong["cleared_on"] = "A clearance is from today or earlier."
    if len(note) > MOST_NOTE:
        wrong["note"] = f"The note can have {MOST_NOTE} characters at most."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    row = Screening.objects.create(
        client=client, day=today, asked_by=by, at=now, active=active, intensity=intensity, cleared_on=cleared_on, note=note,
        diseases=sorted(set(diseases)), signs=sorted(set(signs)), red_flags=sorted(set(red_flags)),
    )
    audit.record(by=by, verb="record_screening", kind="screening", public_id=row.public_id, at=now, client=client)
    return row
