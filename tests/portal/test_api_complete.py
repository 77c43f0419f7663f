"""Whatever the portal shows or does, the API does as well: page by page, in one table that a new page breaks."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.urls import get_resolver
from django.utils import timezone

from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.models import Appointment, ProposedMove
from programs.portal import urls
from tests.access.matrix_portal import proposed

# how something opens the record to another phone or program is decided on the pages alone, where somebody is signed in:
# a token that could make tokens, passkeys or secret addresses would never end
DOOR = "decides who gets in"
PHONE = "a part of the program in the browser"
STAFF = "for the lead"
SAME = {
    ("GET", "today"): {"GET me", "GET my-today"}, ("GET", "manifest"): PHONE, ("GET", "worker"): PHONE,
    ("GET", "pocket"): {"GET my-plan"}, ("GET", "session"): {"GET my-today"}, ("POST", "session"): {"POST my-sessions"},
    ("GET", "saved"): {"GET my-today", "GET my-weeks"}, ("GET", "morning"): {"GET my-today"},
    ("POST", "morning"): {"POST my-mornings"}, ("GET", "weeks"): {"GET my-weeks"}, ("GET", "handout"): {"GET my-handout"},
    ("GET", "measures"): {"GET my-measures"}, ("GET", "notes"): {"GET my-notes"}, ("POST", "notes"): {"POST my-notes"},
    ("POST", "read_notes"): {"POST read-my-notes"},
    ("GET", "visits"): {"GET my-visits", "GET my-offers", "GET my-proposed-moves"},
    ("GET", "book"): {"GET my-openings"}, ("POST", "book"): {"POST my-visits"},
    ("GET", "proposed"): {"GET my-proposed-moves"},
    ("POST", "proposed"): {"POST accept-my-proposed-move", "POST decline-my-proposed-move"},
    ("GET", "cancel"): {"GET my-visits"}, ("POST", "cancel"): {"POST cancel-my-visit", "POST decline-my-offer"},
    ("GET", "confirm"): {"GET my-visits"}, ("POST", "confirm"): {"POST confirm-my-visit", "POST accept-my-offer"},
    ("GET", "move"): {"GET move-my-visit"}, ("POST", "move"): {"POST move-my-visit"},
    ("GET", "calendar"): {"GET my-visit-file"},
    ("GET", "calendars"): DOOR, ("POST", "calendars"): DOOR, ("POST", "end_calendar"): DOOR,
    ("GET", "messages"): {"GET my-reminders"}, ("POST", "messages"): {
        "PUT my-reminders", "GET my-push-devices", "POST my-push-devices", "POST remove-my-push-device",
    },
    ("GET", "details"): {"GET my-details", "GET my-corrections"}, ("POST", "details"): {"POST my-corrections"},
    ("GET", "devices"): {"GET my-devices"}, ("POST", "seen"): PHONE, ("POST", "end_device"): {"POST end-my-device"},
    ("GET", "passkeys"): DOOR, ("POST", "passkeys"): DOOR, ("POST", "remove_passkey"): DOOR,
    ("GET", "tokens"): DOOR, ("POST", "tokens"): DOOR, ("POST", "end_token"): DOOR, ("POST", "answer_own_portal"): DOOR,
    ("GET", "site_access"): STAFF, ("POST", "site_access"): STAFF, ("POST", "end_site_access"): STAFF,
    ("GET", "help"): {"GET me"}, ("POST", "help"): {"POST my-alerts"}, ("GET", "stop"): {"POST my-alerts"},
    ("GET", "untold"): PHONE,
}


def operations() -> set[str]:
    """Every method and route of the client's API."""
    parts = get_resolver().namespace_dict["api"][1].url_patterns
    patterns = [one for part in parts for one in getattr(part, "url_patterns", [part])]
    return {f"{method} {one.name}" for one in patterns for method in getattr(getattr(one.callback, "cls", None), "roles", ())}


def test_every_page_has_its_operations():
    open_to = {route.name: getattr(route.callback, "access", {"methods": {"GET"}})["methods"] for route in urls.urlpatterns}
    pages = {(method, name) for name, methods in open_to.items() for method in methods}
    assert pages == set(SAME)
    named = {name for names in SAME.values() if isinstance(names, set) for name in names}
    assert named - operations() == set()
    mine = {name for name in operations() if name.split(" ")[1] == "me" or "my-" in name}
    assert mine - named == set()   # nor is there one that no page has


@pytest.fixture
def asked(cast):
    """A visit of Ada's that cannot be as agreed, and the time that the clinic proposes."""
    return ProposedMove.objects.get(public_id=proposed(cast)["public_id"])


def send(browser, address, **headers):
    return browser.post(f"/api/v1/me/proposed{address}", "", content_type="application/json", headers=headers)


def test_a_proposal_says_what_was_agreed_and_what_is_proposed(cast, asked, browse):
    told = browse(cast.ada.user).get("/api/v1/me/proposed").json()["results"]
    assert len(told) == 1
    assert told[0]["visit"] == str(asked.appointment.public_id)
    assert (told[0]["agreed_with"], told[0]["proposed_with"], told[0]["zone"]) == (
        asked.appointment.clinician.name, asked.clinician.name, cast.site.zone,
    )
    assert browse(cast.bo.user).get("/api/v1/me/proposed").json()["results"] == []


def test_a_yes_moves_the_visit_once(cast, asked, browse):
    ada = browse(cast.ada.user)
    answers = [send(ada, f"/{asked.public_id}/accept", **{"Idempotency-Key": "k1"}) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].json() == answers[1].json()
    assert answers[0].json()["state"] == "confirmed"
    assert Appointment.objects.get(pk=asked.appointment_id).starts == asked.starts
    assert ada.get("/api/v1/me/proposed").json()["results"] == []


def test_a_no_leaves_it(cast, asked, browse):
    before = asked.appointment.starts
    answer = send(browse(cast.ada.user), f"/{asked.public_id}/decline")
    assert (answer.status_code, answer.json()["state"]) == (200, "declined")
    assert Appointment.objects.get(pk=asked.appointment_id).starts == before


def test_a_proposal_that_does_not_fit_any_more_is_refused(cast, asked, browse):
    cancel_visit(by=cast.desk.user, appointment=asked.appointment, reason="client", now=timezone.now())
    answer = send(browse(cast.ada.user), f"/{asked.public_id}/accept")
    assert (answer.status_code, answer.json()["title"]) == (409, "changed_meanwhile")


def test_one_of_somebody_else_is_not_there(cast, asked, browse):
    for way in ("accept", "decline"):
        assert send(browse(cast.bo.user), f"/{asked.public_id}/{way}").status_code == 404


def test_proposals_cost_the_same_for_one_and_three(cast, asked, browse, django_assert_num_queries):
    ada = browse(cast.ada.user)
    address = "/api/v1/me/proposed"
    ada.get(address)
    with django_assert_num_queries(3):
        ada.get(address)
    for days in (1, 2):
        ProposedMove.objects.create(**{
            field.name: getattr(asked, field.name) for field in ProposedMove._meta.concrete_fields
            if field.name not in ("id", "public_id", "appointment")
        }, appointment=twin(asked.appointment, days))
    with django_assert_num_queries(3):
        assert len(ada.get(address).json()["results"]) == 3


def twin(visit, days):
    """The same visit so many days later: a client is in one place at a time."""
    other = Appointment.objects.get(pk=visit.pk)
    other.pk, other.public_id, other._state.adding = None, Appointment._meta.get_field("public_id").get_default(), True
    for name in ("starts", "ends", "busy_from", "busy_until"):
        setattr(other, name, getattr(other, name) + timedelta(days=days))
    other.save()
    return other


def test_the_paper_is_the_one_that_the_page_gives(cast, program, browse):
    ada = browse(cast.ada.user)
    answer = ada.get(f"/api/v1/me/programs/{program.public_id}/handout")
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    assert answer["Cache-Control"] == "private, no-store"
    assert answer.content.startswith(b"%PDF-")
    refused = ada.get(f"/api/v1/me/programs/{program.public_id}/handout", headers={"Accept": "application/json"})
    assert (refused.status_code, json.loads(refused.content)["status"]) == (406, 406)
