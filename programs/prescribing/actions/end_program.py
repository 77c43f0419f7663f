"""End a program: completed, or stopped before its end."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.visits.actions.withdraw_reassessments import withdraw_reassessments
from clinic.visits.vocab import ReassessmentReason
from programs.prescribing.actions.resume_program import close_pause
from programs.prescribing.models import Program
from programs.prescribing.queries import OPEN, locked
from programs.prescribing.signals import program_changed
from programs.prescribing.vocab import ProgramStatus

ENDS = (ProgramStatus.COMPLETED, ProgramStatus.REVOKED)
# looks that only a running program asks for; a referral's limit and a flag are of the episode and stay
OF_THE_PROGRAM = (ReassessmentReason.KICK_OFF_END, ReassessmentReason.INTERVAL)


@transaction.atomic
def end_program(*, by: User, program: Program, status: str, now: datetime) -> Program:
    """Its last day is today in the client's zone. Open reassessments of the program are withdrawn.

    Refusal: `invalid` (400) for a status that is not an end, `not_open` (409) when it has ended.
    """
    program = locked(program)
    if status not in ENDS:
        sentence = f"A program ends as {' or '.join(ENDS)}, not as {str(status)[:20]!r}."
        raise Refusal("invalid", sentence, status=400, fields={"status": sentence})
    if program.status not in OPEN:
        raise Refusal("not_open", "This program has ended already.")
    close_pause(program, now)
    program.status = status
    program.ended = max(zones.day_in(now, program.client.zone), program.starts)
    program.save(update_fields=["status", "ended"])
    withdraw_reassessments(by=by, episode=program.episode, reasons=OF_THE_PROGRAM, now=now)
    audit.record(
        by=by, verb="end_program", kind="program", public_id=program.public_id, at=now, client=program.client,
        status=status,
    )
    program_changed.send(sender=Program, program=program, now=now)
    return program
