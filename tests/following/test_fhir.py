"""The exported bundle, judged by the official FHIR R4 JSON schema and by an independent model library.

Schema: HL7 FHIR 4.0.1, fhir.schema.json, published by HL7 under CC0 (kept in fixtures/fhir/). Library: fhirclient 4, whose
models are those of FHIR 4.0.1.
"""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from datetime import date, timedelta
from importlib import import_module
from pathlib import Path
from uuid import uuid4

import jsonschema_rs
import pytest

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.open_group import open_group
from clinic.booking.models import VisitType
from clinic.trust.actions.export_person import export_person
from clinic.visits.actions.load_measures import load_measures
from clinic.visits.models import Measure, Result
from programs.following.fhir.bundle import bundle
from programs.following.fhir.care import timing, windows
from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan
from tests.following.conftest import START, hip_plan

SCHEMA = Path(__file__).resolve().parents[2] / "fixtures" / "fhir" / "fhir-4.0.1.schema.json.gz"
KINDS = {"Patient", "Practitioner", "Location", "EpisodeOfCare", "Goal", "Appointment", "CarePlan", "Observation"}


@pytest.fixture(scope="module")
def schema():
    return json.loads(gzip.decompress(SCHEMA.read_bytes()))


def faults(schema, kind: str, resource) -> list[str]:
    """What the official schema has against a resource of that kind."""
    judge = jsonschema_rs.Draft6Validator({key: value for key, value in schema.items() if key == "definitions"} | {
        "$ref": f"#/definitions/{kind}"
    })
    return [str(error.message)[:200] for error in judge.iter_errors(resource)]


@pytest.fixture
def record(cast, now, report):
    """Ada's record with one of everything that is exported; one session was edited."""
    load_measures()
    cast.ada_hip.goals = "Sit through a film; climb to the lighthouse"
    cast.ada_hip.save()
    cast.ada.external_ref = "K-17"
    cast.ada.save()
    book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=now + timedelta(days=1),
        now=now, room=cast.room,
    )
    Result.objects.create(
        episode=cast.ada_hip, measure=Measure.objects.all()[0], side="left", value=4.0, at=now, by=cast.mina.user
    )
    session = uuid4()
    report(0, log_id=session, pain_during=3, effort=5, rating="about_right")
    report(0, log_id=session, edit=1, pain_during=2, effort=5, rating="about_right")
    return bundle(cast.ada)


def test_the_official_schema_accepts_every_resource(record, schema):
    found = {}
    for entry in record["entry"]:
        kind = entry["resource"]["resourceType"]
        found.setdefault(kind, []).extend(faults(schema, kind, entry["resource"]))
    assert found == {kind: [] for kind in KINDS}


def test_the_official_schema_would_find_a_fault(record, schema):
    """The judge is awake: a wrong member, a wrong code type and a missing status are each found."""
    patient = record["entry"][0]["resource"]
    assert faults(schema, "Patient", {**patient, "shoeSize": 42})
    assert faults(schema, "Patient", {**patient, "birthDate": "17.5.1984"})
    plan = next(each["resource"] for each in record["entry"] if each["resource"]["resourceType"] == "CarePlan")
    assert faults(schema, "CarePlan", {**plan, "subject": {"refrence": "Patient/1"}})


def test_an_independent_library_reads_every_resource(record):
    for entry in record["entry"]:
        resource = entry["resource"]
        module = import_module(f"fhirclient.models.{resource['resourceType'].lower()}")
        model = getattr(module, resource["resourceType"])(resource, strict=True)
        assert model.as_json() == resource


def test_every_reference_leads_to_a_resource_of_the_bundle(record):
    there = {f"{each['resource']['resourceType']}/{each['resource']['id']}" for each in record["entry"]}

    def references(value):
        if isinstance(value, dict):
            yield from ([value["reference"]] if "reference" in value else [])
            value = list(value.values())
        if isinstance(value, list):
            for inner in value:
                yield from references(inner)

    asked = set(references(record))
    assert asked
    assert asked <= there


def test_an_edited_session_is_told_once_as_amended(record):
    pain = [each["resource"] for each in record["entry"] if each["resource"]["id"].startswith("pain-")]
    assert [(each["status"], each["valueInteger"]) for each in pain] == [("amended", 2)]


def test_phases_become_timings_with_their_days():
    """By hand: the kick-off waits for a decision, so it has no end and nothing after it a day."""
    phase, first, last = windows(hip_plan())[0]
    assert (len(windows(hip_plan())), first, last) == (1, START, None)
    assert timing(phase, first, last, 300) == {
        "repeat": {
            "boundsPeriod": {"start": "2026-03-02"}, "duration": 300, "durationUnit": "s", "frequency": 1, "frequencyMax": 2,
            "period": 1, "periodUnit": "d",
        }
    }
    taper = PhasePlan("taper", 14, Span(1, 1), days_per_week=2, weekdays=("TU", "FR"), times=("evening",))
    repeat = timing(taper, date(2026, 3, 9), date(2026, 3, 22), 60)["repeat"]
    assert (repeat["dayOfWeek"], repeat["when"], repeat["frequency"]) == (["tue", "fri"], ["EVE"], 1)
    weekly = timing(PhasePlan("maintenance", None, Span(1, 1), days_per_week=3), START, None, 60)["repeat"]
    assert (weekly["frequency"], weekly["period"], weekly["periodUnit"]) == (3, 1, "wk")


def test_it_goes_with_everything_about_a_person(record, cast, now):
    file = zipfile.ZipFile(io.BytesIO(export_person(by=cast.lead.user, client=cast.ada, now=now)))
    assert json.loads(file.read("fhir-r4.json")) == record


def test_a_visit_in_a_group_names_none_of_the_others(cast, now, schema):
    kind = VisitType.objects.create(code="balance", name="Balance group", minutes=45, places=3)
    start = now + timedelta(days=1)
    open_group(by=cast.desk.user, site=cast.site, visit_type=kind, clinician=cast.mina, start=start, now=now)
    for client in (cast.ada, cast.bo):
        book_visit(by=cast.desk.user, client=client, visit_type=kind, clinician=cast.mina, start=start, now=now)
    found = bundle(cast.ada)
    visit, = (entry["resource"] for entry in found["entry"] if entry["resource"]["resourceType"] == "Appointment")
    assert faults(schema, "Appointment", visit) == []
    assert visit["description"] == "Group visit"
    there = [each["actor"]["reference"].split("/")[0] for each in visit["participant"]]
    assert there == ["Patient", "Practitioner", "Location"]
    assert str(cast.bo.public_id) not in json.dumps(found)
