"""Bo's ids in Ada's hands: the same answer, byte for byte, as an id of nobody."""

import json
import re
import uuid

import pytest
from django.urls import URLPattern, reverse

from clinic.booking.actions.book_visit import book_visit
from programs.portal import api_urls, urls
from programs.portal.models import Device
from programs.prescribing.queries import newest_revision
from tests.portal.test_moving_a_visit import START

ROUTES = [
    f"{namespace}:{route.name}"
    for namespace, module in (("portal", urls), ("api", api_urls)) for route in module.urlpatterns
    if isinstance(route, URLPattern) and "uuid" in str(route.pattern)
]
ASKED = ["/portal/", "/portal/session/", "/portal/weeks/", "/portal/morning/", "/api/v1/me/today", "/api/v1/me/weeks"]


@pytest.fixture
def bos(cast, prescribe, program, browse, now):
    """Bo's program, visit and device."""
    browse(cast.bo.user)
    theirs = prescribe(episode=cast.bo_neck)
    visit = book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.theo, start=START, now=now
    )
    return {"program": theirs, "visit": visit, "device": Device.objects.get(user=cast.bo.user)}


def plain(answer, *ids):
    """Status and body, without the marks that differ in every answer and without the id that was asked for."""
    body = re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", answer.content.decode())
    for public_id in ids:
        body = body.replace(str(public_id), "ID")
    return answer.status_code, answer["Content-Type"], body


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("route", ROUTES)
@pytest.mark.parametrize("kind", ["program", "visit", "device"])
def test_a_route_with_an_id_of_bos_answers_as_for_an_id_of_nobody(cast, bos, browse, route, kind, method):
    ada = browse(cast.ada.user)
    answers = []
    for public_id in (bos[kind].public_id, uuid.uuid4()):
        answers.append(plain(getattr(ada, method)(reverse(route, args=[public_id])), public_id))
    assert answers[0] == answers[1]
    assert answers[0][0] in {404, 405}


@pytest.mark.parametrize("address", ASKED)
def test_a_program_of_bos_in_the_query_answers_as_one_of_nobody(cast, bos, browse, address):
    ada = browse(cast.ada.user)
    asked = [bos["program"].public_id, uuid.uuid4()]
    answers = [plain(ada.get(address, {"program": str(public_id)}), public_id) for public_id in asked]
    assert answers[0] == answers[1]
    assert answers[0][0] == 404


def test_ids_of_bos_in_a_body_answer_as_ids_of_nobody(cast, bos, browse):
    ada = browse(cast.ada.user)
    log_id, answer_id = str(uuid.uuid4()), str(uuid.uuid4())
    answers = []
    for revision, program in (
        (newest_revision(bos["program"]).public_id, bos["program"].public_id), (uuid.uuid4(), uuid.uuid4()),
    ):
        entry = {"log_id": log_id, "revision": str(revision), "day": "2026-03-02", "items": []}
        morning = {"answer_id": answer_id, "program": str(program), "day": "2026-03-02", "pain": 1}
        answers.append([
            plain(ada.post(address, json.dumps(body), content_type="application/json"), revision, program)
            for address, body in (("/api/v1/me/sessions", {"sessions": [entry]}), ("/api/v1/me/mornings", morning))
        ])
    assert answers[0] == answers[1]
    assert [status for status, *_ in answers[0]] == [200, 404]
