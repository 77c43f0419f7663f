"""Stop a program that holds an exercise the client's screening answers speak against."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.library.queries import warnings
from programs.library.vocab import Severity
from programs.prescribing.models import Program

LEAST_REASON = 10   # characters: a word is not a reason


def contraindications(slugs: Iterable[str], conditions: Iterable[str]) -> list[dict[str, str]]:
    """Each exercise that must not be given with one of these conditions, and why."""
    return [
        {"exercise": warning.slug, "condition": warning.condition, "reason": warning.reason}
        for warning in warnings(sorted(set(slugs)), sorted(set(conditions)))
        if warning.severity == Severity.DO_NOT
    ]


def refuse_contraindicated(against: list[dict[str, str]], override_reason: str) -> None:
    """Refusal `contraindicated` (409) with the reasons, unless a clinician said in ten characters or more why not."""
    if not against:
        return
    if not override_reason:
        names = sorted({row["exercise"] for row in against})
        raise Refusal(
            "contraindicated",
            f"The client's screening answers speak against {', '.join(names)}. "
            "Leave it out, or write why it is safe here.",
            fields={f"exercise.{row['exercise']}": row["reason"] for row in against}, warnings=against,
        )
    if len(override_reason) < LEAST_REASON:
        sentence = f"Write why it is safe here, in {LEAST_REASON} characters or more."
        raise Refusal("invalid", sentence, status=400, fields={"override_reason": sentence})


def note_override(*, by: User, program: Program, against: list[dict[str, str]], now: datetime) -> None:
    """One audit row with codes; the clinician's own words are the revision's reason."""
    if against:
        audit.record(
            by=by, verb="override_contraindication", kind="program", public_id=program.public_id, at=now,
            client=program.client, against=[[row["exercise"], row["condition"]] for row in against],
        )
