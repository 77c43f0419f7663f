"""What was measured and told: Observation."""

from __future__ import annotations

from collections.abc import Iterable

from clinic.people.vocab import BodySide
from clinic.visits.models import Result
from programs.following.fhir.people import Resource, instant, lean, reference
from programs.following.models import SessionLog

# LOINC 72514-3: Pain severity - 0-10 verbal numeric rating [Score] - Reported
PAIN = {"coding": [{"system": "http://loinc.org", "code": "72514-3"}], "text": "Worst pain during the session, 0 to 10"}
EFFORT = {"text": "Effort of the session, 0 to 10"}


def measured(result: Result) -> Resource:
    """One value of an outcome measure."""
    side = "" if result.side == BodySide.NONE else BodySide(result.side).label
    return lean({
        "resourceType": "Observation", "id": str(result.public_id), "status": "final",
        "code": {"text": result.measure.name}, "subject": reference("Patient", result.episode.client.public_id),
        "effectiveDateTime": instant(result.at), "bodySite": {"text": side} if side else {},
        "valueQuantity": lean({"value": result.value, "unit": result.measure.unit}),
    })


def told(log: SessionLog) -> list[Resource]:
    """Pain and effort of one session, as the client told them."""
    asked = (("pain", PAIN, log.pain_during), ("effort", EFFORT, log.effort))
    return [
        {
            "resourceType": "Observation", "id": f"{name}-{log.log_id}", "status": "amended" if log.edit else "final",
            "code": code, "subject": reference("Patient", log.program.client.public_id),
            "effectiveDateTime": log.day.isoformat(), "valueInteger": value,
        }
        for name, code, value in asked if value is not None
    ]


def newest_edits(logs: Iterable[SessionLog]) -> list[SessionLog]:
    """Each session once: the edit with the highest number counts."""
    kept: dict[object, SessionLog] = {}
    for log in logs:
        held = kept.get(log.log_id)
        if held is None or log.edit > held.edit:
            kept[log.log_id] = log
    return list(kept.values())
