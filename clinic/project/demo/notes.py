"""Short conversations of some demo clients with their clinician; the newest word of some waits to be read."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from programs.following.actions.write_note import write_note
from programs.prescribing.models import Program

NAMESPACE = uuid.UUID("5c1b7d34-64f2-5f0a-9a55-0d1f6c2e8b47")
# who writes, hours ago, what; an answer says that what came before was read
TALKS = {
    "en": (
        (("client", 70, "The band snapped. Can I use a towel until Thursday?"),
         ("clinician", 66, "A towel is fine for the rows. Leave the side steps out until you have the new band."),
         ("client", 20, "Thank you. Picked up a band today.")),
        (("client", 30, "The second stretch pulls behind the knee and not in the thigh. Is that right?"),),
        (("client", 52, "Slept badly and did half of it yesterday."),
         ("clinician", 27, "Half is fine. Take the easier level tonight, and tell me tomorrow how it went.")),
        (("clinician", 49, "A level up since yesterday. Sore for a day is usual; sharp pain is not: then stop and ring us."),
         ("client", 44, "Sore on the stairs this morning, gone by noon.")),
    ),
    "es": (
        (("client", 40, "¿Puedo hacer los ejercicios por la mañana y no por la noche?"),
         ("clinician", 16, "Sí, a la hora que mejor le venga.")),
    ),
}


def write_notes(*, program: Program, number: int, now: datetime) -> None:
    """The talk of every fourth client who has begun, told up to `now`."""
    talks = TALKS.get(program.client.language, TALKS["en"])
    begun = now - timedelta(hours=80)
    chosen = number % 4 == 1 or program.client.language != "en"
    if not chosen or program.revisions.filter(at__gt=begun, number=1).exists():
        return
    last = None
    for place, (who, ago, text) in enumerate(talks[number // 4 % len(talks)]):
        writer = program.client.user if who == "client" else program.clinician.user
        if writer is None:
            raise ValueError("a demo client signs in, so has a user")
        note = write_note(
            by=writer, program=program, note_id=uuid.uuid5(NAMESPACE, f"{program.public_id}/{place}"), text=text,
            read_until=last, now=now - timedelta(hours=ago),
        )
        last = note.note_id
