"""Go on with a paused program: from today its days count again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from programs.prescribing.models import Pause, Program
from programs.prescribing.queries import locked
from programs.prescribing.signals import program_changed
from programs.prescribing.vocab import ProgramStatus


@transaction.atomic
def resume_program(*, by: User, program: Program, now: datetime) -> Program:
    """Close the open pause. The phases' days are not moved: a revision does that. Refusal `not_paused` (409)."""
    program = locked(program)
    if program.status != ProgramStatus.ON_HOLD:
        raise Refusal("not_paused", "This program is not paused.")
    close_pause(program, now)
    program.status = ProgramStatus.ACTIVE
    program.save(update_fields=["status"])
    audit.record(
        by=by, verb="resume_program", kind="program", public_id=program.public_id, at=now, client=program.client
    )
    program_changed.send(sender=Program, program=program, now=now)
    return program


def close_pause(program: Program, now: datetime) -> None:
    """End the open pause, if there is one, so that today counts again."""
    for pause in Pause.objects.filter(program=program, until__isnull=True):
        pause.until = max(zones.day_in(now, program.client.zone), pause.first)
        pause.save(update_fields=["until"])
