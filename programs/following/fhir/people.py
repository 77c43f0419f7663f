"""Who and where: Patient, Practitioner, Location, EpisodeOfCare, Goal, Appointment."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from clinic.booking.models import Appointment
from clinic.people.models import Client, Episode, Site, Staff
from clinic.people.vocab import EpisodeStatus

Resource = dict[str, Any]


def instant(moment: datetime) -> str:
    """A FHIR instant in UTC."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")


def lean(values: Resource) -> Resource:
    """Without empty members: FHIR allows none."""
    return {key: value for key, value in values.items() if value not in (None, "", [], {})}


def reference(kind: str, key: Any, shown: str = "") -> Resource:
    """A reference to a resource of the same bundle."""
    return lean({"reference": f"{kind}/{key}", "display": shown})


def patient(client: Client) -> Resource:
    """The person; the number of the system they were imported from is their identifier."""
    telecom = [
        {"system": system, "value": value}
        for system, value in (("email", client.email), ("phone", client.phone)) if value
    ]
    return lean({
        "resourceType": "Patient", "id": str(client.public_id), "active": client.archived is None,
        "identifier": [{"value": client.external_ref}] if client.external_ref else [],
        "name": [lean({"family": client.family_name, "given": [client.given_name]})],
        "birthDate": client.birth_date.isoformat() if client.birth_date else "",
        "telecom": telecom,
        "communication": [
            {"language": {"coding": [{"system": "urn:ietf:bcp:47", "code": client.language}]}, "preferred": True}
        ],
    })


def practitioner(staff: Staff) -> Resource:
    """A member of the practice."""
    return lean({
        "resourceType": "Practitioner", "id": str(staff.public_id), "active": staff.user.is_active,
        "name": [lean({"text": staff.name, "suffix": [staff.credentials] if staff.credentials else []})],
    })


def location_key(site: Site) -> str:
    """A site has no public id; its key in this bundle."""
    return f"site-{site.pk}"


def location(site: Site) -> Resource:
    """Where the visits are."""
    return lean({
        "resourceType": "Location", "id": location_key(site), "status": "active", "name": site.name,
        "telecom": [{"system": "phone", "value": site.phone}] if site.phone else [],
    })


def episode_of_care(episode: Episode) -> Resource:
    """One complaint being worked on. The complaint itself is the first Goal's addresses and the care plan's title."""
    return lean({
        "resourceType": "EpisodeOfCare", "id": str(episode.public_id), "status": EpisodeStatus(episode.status).value,
        "patient": reference("Patient", episode.client.public_id),
        "careManager": reference("Practitioner", episode.lead.public_id, episode.lead.name),
        "type": [{"text": episode.complaint}],
        "period": lean({
            "start": episode.opened.isoformat(), "end": episode.closed.isoformat() if episode.closed else "",
        }),
    })


def goal_key(episode: Episode) -> str:
    """An episode's goals are one text: one Goal."""
    return f"goal-{episode.public_id}"


def goal(episode: Episode) -> Resource:
    """What the client wants to reach, in their words."""
    life = {EpisodeStatus.FINISHED: "completed", EpisodeStatus.CANCELLED: "cancelled"}
    return {
        "resourceType": "Goal", "id": goal_key(episode),
        "lifecycleStatus": life.get(EpisodeStatus(episode.status), "active"),
        "description": {"text": episode.goals}, "subject": reference("Patient", episode.client.public_id),
    }


def appointment(visit: Appointment) -> Resource:
    """A visit; our status codes are FHIR's own. Of a group the others who come are not named."""
    people = [
        reference("Patient", visit.client.public_id),
        reference("Practitioner", visit.clinician.public_id, visit.clinician.name),
        reference("Location", location_key(visit.site), visit.site.name),
    ]
    return lean({
        "resourceType": "Appointment", "id": str(visit.public_id), "status": visit.status,
        "serviceType": [{"text": visit.visit_type.name}], "description": "Group visit" if visit.place_id else "",
        "start": instant(visit.starts), "end": instant(visit.ends),
        "created": instant(visit.booked_at),
        "cancelationReason": {"text": visit.get_cancel_reason_display()} if visit.cancel_reason else {},
        "participant": [{"actor": person, "status": "accepted"} for person in people],
    })
