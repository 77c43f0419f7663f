"""All of one client's resources in a Bundle."""

from __future__ import annotations

import json
import uuid

from clinic.booking.models import Appointment
from clinic.people.models import Client, Staff
from clinic.visits.models import Result
from programs.following.fhir import care, people, seen
from programs.following.fhir.people import Resource
from programs.following.models import SessionLog

SPACE = uuid.UUID("6f1d9c3e-52f1-4c1e-9a55-0d8f3b1c7a10")   # names of this bundle's entries, RFC 9562 version 5


def resources(client: Client) -> list[Resource]:
    """Patient first, then what refers to it. Staff are those who looked after the client, nobody else."""
    episodes = list(client.episodes.select_related("client", "lead__user"))
    visits = Appointment.objects.filter(client=client).select_related("client", "clinician__user", "site", "visit_type")
    programs = list(client.programs.select_related("client", "clinician__user", "episode").order_by("pk"))
    results = Result.objects.filter(episode__client=client).select_related("measure", "episode__client")
    logs = SessionLog.objects.filter(program__client=client).select_related("program__client").order_by("day", "pk")
    staff: dict[int, Staff] = {row.lead.pk: row.lead for row in episodes}
    staff |= {visit.clinician.pk: visit.clinician for visit in visits}
    staff |= {program.clinician.pk: program.clinician for program in programs}
    sites = {client.site.pk: client.site} | {visit.site.pk: visit.site for visit in visits}
    return [
        people.patient(client),
        *(people.practitioner(staff[key]) for key in sorted(staff)),
        *(people.location(sites[key]) for key in sorted(sites)),
        *(people.episode_of_care(row) for row in episodes),
        *(people.goal(row) for row in episodes if row.goals),
        *(people.appointment(visit) for visit in visits),
        *(plan for program in programs for plan in care.care_plans(program)),
        *(seen.measured(result) for result in results),
        *(told for log in seen.newest_edits(logs) for told in seen.told(log)),
    ]


def bundle(client: Client) -> Resource:
    """A FHIR R4 Bundle of type collection."""
    entries = [
        {"fullUrl": f"urn:uuid:{uuid.uuid5(SPACE, each['resourceType'] + '/' + each['id'])}", "resource": each}
        for each in resources(client)
    ]
    return {"resourceType": "Bundle", "type": "collection", "entry": entries}


def exported(client: Client) -> tuple[str, str]:
    """The file that goes with everything about a person."""
    return "fhir-r4.json", json.dumps(bundle(client), ensure_ascii=False, indent=1)
