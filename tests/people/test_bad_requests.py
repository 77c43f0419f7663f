"""Requests that nobody sends by accident: too deep, too big, too many fields, forged, aimed at another clinic."""

from __future__ import annotations

import json
from http import HTTPStatus

import pytest
from django.contrib.sessions.models import Session
from django.core import mail
from django.test import Client as Browser
from django.urls import reverse

from clinic.booking.actions.make_feed import make_feed
from clinic.people.models import Client, Episode, Site, Staff, User
from clinic.people.vocab import Role

REGISTER = "/api/v1/clients"


@pytest.fixture
def desk(cast, browse):
    browser = browse(cast.desk.user)
    browser.raise_request_exception = False
    return browser


def posted(browser, body, kind="application/json", **more):
    return browser.post(REGISTER, body, content_type=kind, **more)


@pytest.mark.parametrize(
    "body", ["[" * 100_000, '{"given_name":' * 50_000, "[" * 20_000 + "]" * 20_000, '{"site": ' + "9" * 100_000 + "}"]
)
def test_a_body_too_deep_or_a_number_too_long_is_refused(desk, body):
    answer = posted(desk, body)
    assert answer.status_code == HTTPStatus.BAD_REQUEST
    assert answer["Content-Type"] == "application/problem+json"


def test_a_body_too_big_is_refused_before_it_is_read(desk, cast, settings):
    long = "x" * settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    body = json.dumps({"site": cast.site.name, "given_name": "Cleo", "family_name": long})
    before = Client.objects.count()
    assert posted(desk, body).status_code in (HTTPStatus.BAD_REQUEST, HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
    assert desk.post("/clients/new/", {"given_name": "x" * 3_000_000}).status_code == HTTPStatus.BAD_REQUEST
    assert Client.objects.count() == before


def test_ten_thousand_fields_of_a_form_are_refused(desk):
    answer = desk.post("/clients/new/", {f"f{number}": "x" for number in range(10_001)})
    assert answer.status_code == HTTPStatus.BAD_REQUEST


@pytest.mark.parametrize("body", ["null", "[]", '"text"', "7", "true", '[{"given_name": "Cleo"}]'])
def test_json_of_another_kind_is_refused(desk, body):
    assert posted(desk, body).status_code == HTTPStatus.BAD_REQUEST


def test_of_a_name_told_twice_the_last_counts_as_the_format_has_it(desk, cast):
    """RFC 8259, 4: names should be unique; what happens otherwise is left to the reader. The last one, checked like any."""
    body = f'{{"site": "{cast.site.name}", "given_name": "\\u0000", "given_name": "Cleo"}}'
    assert posted(desk, body).json()["given_name"] == "Cleo"
    assert posted(desk, body.replace('"Cleo"', '""')).status_code == HTTPStatus.BAD_REQUEST


FORM = {"given_name": "Cleo", "language": "en"}


@pytest.fixture
def strict(cast):
    browser = Browser(enforce_csrf_checks=True)
    browser.force_login(cast.desk.user)
    return browser


def form_token(browser, address="/clients/new/"):
    browser.get(address)
    return browser.cookies["csrftoken"].value


def test_a_form_of_another_page_changes_nothing(strict, cast):
    sent = FORM | {"site": str(cast.site.pk)}
    before = Client.objects.count()
    assert strict.post("/clients/new/", sent).status_code == HTTPStatus.FORBIDDEN
    token = form_token(strict)
    for origin in ("https://evil.example", "null"):
        answer = strict.post("/clients/new/", sent | {"csrfmiddlewaretoken": token}, headers={"origin": origin})
        assert answer.status_code == HTTPStatus.FORBIDDEN
    assert Client.objects.count() == before
    assert strict.post("/clients/new/", sent | {"csrfmiddlewaretoken": token}).status_code == HTTPStatus.FOUND
    assert Client.objects.count() == before + 1


@pytest.mark.parametrize("kind", ["application/json", "text/plain", "application/x-www-form-urlencoded"])
def test_no_content_type_gets_round_it(strict, cast, kind):
    """A page elsewhere can send these three without asking first, the last two with the cookies."""
    body = json.dumps({"site": cast.site.name, "given_name": "Cleo"})
    assert posted(strict, body, kind).status_code == HTTPStatus.FORBIDDEN
    assert posted(strict, body, kind, headers={"origin": "https://evil.example"}).status_code == HTTPStatus.FORBIDDEN
    token = form_token(strict)
    taken = posted(strict, body, headers={"x-csrftoken": token})
    assert taken.status_code == HTTPStatus.CREATED
    # the API reads JSON and nothing else, with the token as well
    assert posted(strict, body, "text/plain", headers={"x-csrftoken": token}).status_code == 415


def test_a_request_of_a_part_of_a_page_is_held_to_the_same(strict):
    assert strict.post("/clients/new/", FORM, headers={"hx-request": "true"}).status_code == HTTPStatus.FORBIDDEN


@pytest.fixture
def elsewhere(cast):
    """Another practice in the same installation: its own site, desk, lead and clinician."""
    site = Site.objects.create(
        name="Far Quay", zone="Europe/Madrid", phone="+34600000000", emergency_number="112", region_code="ES"
    )
    for role in (Role.FRONT_DESK, Role.LEAD, Role.CLINICIAN):
        Staff.objects.create(user=User.objects.create_user(f"{role}@far.example", role), name=role).sites.add(site)
    return site


@pytest.mark.parametrize("role", [Role.FRONT_DESK, Role.LEAD, Role.CLINICIAN])
def test_nobody_of_another_clinic_finds_a_client_of_this_one(cast, elsewhere, browse, role):
    browser = browse(User.objects.get(email=f"{role}@far.example"))
    key = cast.ada.public_id
    for address in (
        f"/clients/{key}/", f"/api/v1/clients/{key}", f"/clients/{key}/trail/", f"/clients/{key}/timeline/",
        f"/api/v1/clients/{key}/episodes",
    ):
        assert browser.get(address).status_code == HTTPStatus.NOT_FOUND, address
    for address in ("/clients/?q=quill", "/api/v1/clients?search=quill", "/api/v1/appointments"):
        assert b"Quill" not in browser.get(address).content, address


def test_a_role_that_was_taken_away_holds_no_longer_in_an_open_session(cast, browse):
    browser, address = browse(cast.lead.user), f"/clients/{cast.ada.public_id}/trail/"
    assert browser.get(address).status_code == HTTPStatus.OK
    User.objects.filter(pk=cast.lead.user.pk).update(role=Role.FRONT_DESK)
    assert browser.get(address).status_code == HTTPStatus.NOT_FOUND
    User.objects.filter(pk=cast.lead.user.pk).update(is_active=False)
    assert browser.get("/clients/").status_code == HTTPStatus.FOUND


def test_a_clinician_who_hands_an_episode_on_sees_it_no_more(cast, browse):
    browser, address = browse(cast.mina.user), f"/clients/{cast.ada.public_id}/"
    assert browser.get(address).status_code == HTTPStatus.OK
    Episode.objects.filter(client=cast.ada).update(lead=cast.theo)
    assert browser.get(address).status_code == HTTPStatus.NOT_FOUND


def test_a_calendar_dies_with_its_owner(cast, now):
    _, secret = make_feed(by=cast.mina.user, kind="clinician", now=now)
    address = reverse("booking:feed", args=[secret])
    assert Browser().get(address).status_code == HTTPStatus.OK
    User.objects.filter(pk=cast.mina.user.pk).update(is_active=False)
    assert Browser().get(address).status_code == HTTPStatus.NOT_FOUND


def test_a_link_in_a_mail_never_follows_the_address_somebody_asked_by(cast, settings):
    settings.ALLOWED_HOSTS = ["*"]
    browser = Browser(headers={"host": "evil.example"})
    browser.post("/account/login/code/", {"email": cast.ada.email})
    assert len(mail.outbox) == 1
    assert "evil.example" not in str(mail.outbox[0].message())


def test_a_new_password_ends_the_other_sessions(cast):
    here, there = Browser(), Browser()
    for browser in (here, there):
        browser.force_login(cast.desk.user)
    assert there.get("/clients/").status_code == HTTPStatus.OK
    user = User.objects.get(pk=cast.desk.user.pk)
    user.set_password("another passphrase that is long")
    user.save()
    assert there.get("/clients/").status_code == HTTPStatus.FOUND
    assert Session.objects.exists()


@pytest.mark.parametrize("field", ["given_name", "family_name", "never heard of"])
def test_a_form_with_a_nul_is_refused_before_its_view(desk, cast, field):
    before = Client.objects.count()
    answer = desk.post("/clients/new/", FORM | {"site": str(cast.site.pk), field: "a\x00b"})
    assert (answer.status_code, answer.content) == (HTTPStatus.BAD_REQUEST, b"A field holds a control character.")
    assert Client.objects.count() == before
    assert answer["X-Request-Id"]
