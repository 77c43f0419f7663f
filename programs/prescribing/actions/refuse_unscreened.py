"""Stop a program while the screening is missing, old or speaks against it, until a clinician says why it may go on."""

from __future__ import annotations

from datetime import datetime

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.prescribing.actions.refuse_contraindicated import LEAST_REASON
from programs.prescribing.models import Program, ScreeningOverride
from programs.prescribing.screening import Standing

MOST_REASON = 300   # characters


def refuse_unscreened(standing: Standing, reason: str) -> None:
    """Refusal `screening` (409) with what stands in the way, unless a reason of ten characters or more says why to go on."""
    if standing.gate.is_open:
        return
    if not reason:
        hint = "Ask the questions, or write why it may go on."
        if standing.gate.speaks_against:
            hint = "See to that first, or write why it may go on."
        raise Refusal(
            "screening", f"{standing.sentence} {hint}", fields={"screening_reason": standing.sentence},
            gate=standing.gate.code,
        )
    if not LEAST_REASON <= len(reason) <= MOST_REASON:
        sentence = f"Write why it may go on, in {LEAST_REASON} to {MOST_REASON} characters."
        raise Refusal("invalid", sentence, status=400, fields={"screening_reason": sentence})


def note_screening_override(*, by: User, program: Program, standing: Standing, reason: str, now: datetime) -> None:
    """Keep the reason with the program, and one audit row with the code."""
    if standing.gate.is_open:
        return
    ScreeningOverride.objects.create(
        program=program, screening=standing.screening, code=standing.gate.code, reason=reason, by=by, at=now
    )
    audit.record(
        by=by, verb="override_screening", kind="program", public_id=program.public_id, at=now, client=program.client,
        gate=standing.gate.code,
    )
