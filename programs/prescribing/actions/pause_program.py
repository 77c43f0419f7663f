"""Pause a program: from today its days do not count."""

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

MOST_REASON = 200


@transaction.atomic
def pause_program(*, by: User, program: Program, reason: str, now: datetime) -> Pause:
    """An open pause from today in the client's zone. Refusal: `invalid` (400), `not_active` (409)."""
    program = locked(program)
    if not 1 <= len(reason.strip()) <= MOST_REASON:
        sentence = f"Say in 1 to {MOST_REASON} characters why the program is paused."
        raise Refusal("invalid", sentence, status=400, fields={"reason": sentence})
    if program.status != ProgramStatus.ACTIVE:
        raise Refusal("not_active", "Only a program that is being followed can be paused.")
    pause = Pause.objects.create(
        program=program, first=zones.day_in(now, program.client.zone), reason=reason.strip(), by=by
    )
    program.status = ProgramStatus.ON_HOLD
    program.save(update_fields=["status"])
    audit.record(
        by=by, verb="pause_program", kind="program", public_id=program.public_id, at=now, client=program.client
    )
    program_changed.send(sender=Program, program=program, now=now)
    return pause
