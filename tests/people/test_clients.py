"""Clients and episodes: pages, API and actions."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.utils import timezone

from clinic.people import queries
from clinic.people.actions.register_client import register_client
from clinic.people.actions.set_consent import set_consent
from clinic.people.models import AuditEvent, Client, Consent, Episode, IdempotencyKey, User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Channel


@pytest.mark.parametrize(("who", "noted"), [("desk", []), ("mina", ["pregnancy"])])
def test_a_registered_client_can_sign_in_and_only_a_clinician_notes_what_applies(cast, browse, who, noted):
    by = getattr(cast, who).user
    assert ("pregnancy" in browse(by).get("/clients/new/").content.decode()) == bool(noted)
    answer = browse(by).post(
        "/clients/new/",
        {
            "site": cast.site.pk, "given_name": "Zoë", "family_name": "O'Brien", "birth_date": "1990-02-28",
            "email": "Zoe@Client.Example", "phone": "07700 900777", "language": "es", "conditions": ["pregnancy"],
            "consent_email": "on",
        },
    )
    client = Client.objects.get(given_name="Zoë")
    assert answer["Location"] == f"/clients/{client.public_id}/episodes/new/"
    assert (client.phone, client.email, client.user.role) == ("+447700900777", "zoe@client.example", "client")
    assert queries.open_conditions(client, date.today()) == noted
    assert queries.consents(client) == {"email": True}
    assert AuditEvent.objects.filter(verb="register_client", client=client, by=by).exists()


def test_what_cannot_be_used_is_named_and_what_was_typed_stays(cast, browse):
    answer = browse(cast.desk.user).post(
        "/clients/new/",
        {"site": cast.site.pk, "given_name": "Zoë", "phone": "12", "email": "zoe@", "language": "en"},
    )
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "This phone number is too long or too short." in page
    assert "This is not a mail address." in page
    assert 'value="Zoë"' in page
    assert not Client.objects.filter(given_name="Zoë").exists()


def test_an_address_that_somebody_signs_in_with_is_refused_and_nothing_is_half_saved(cast, now):
    users = User.objects.count()
    with pytest.raises(Refusal) as refused:
        register_client(by=cast.desk.user, site=cast.site, given_name="Twin", email="ADA@client.example", now=now)
    assert refused.value.code == "email_taken"
    assert User.objects.count() == users


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("given_name", ""), ("given_name", "x" * 121), ("birth_date", date(2026, 3, 3)), ("birth_date", date(1899, 12, 31)),
        ("zone", "Mars/Olympus"), ("language", "xx"), ("conditions", ("nonsense",)), ("conditions", ("pregnancy",)),
    ],
)
def test_each_bad_field_is_named(cast, now, field, value):
    given = {"given_name": "Cleo", field: value}
    with pytest.raises(Refusal) as refused:
        register_client(by=cast.desk.user, site=cast.site, now=now, **given)
    assert (refused.value.status, list(refused.value.fields)) == (400, [field])


@pytest.mark.parametrize("text", ["quill", "ADA qui", "ada 1984-05-17", "ada 17/05/1984", "900101", "07700 900101"])
def test_a_client_is_found_by_any_part(cast, text):
    assert [row.given_name for row in queries.search_clients(cast.desk.user, text)] == ["Ada"]


def test_accents_do_not_hide_a_client(cast, now):
    register_client(by=cast.desk.user, site=cast.site, given_name="Ángela", family_name="Núñez", now=now)
    assert [row.given_name for row in queries.search_clients(cast.desk.user, "angela nun")] == ["Ángela"]
    assert not queries.search_clients(cast.desk.user, "angela quill").exists()


def test_a_clinician_sees_their_own_and_those_nobody_looks_after_yet(cast, now):
    fresh = register_client(by=cast.desk.user, site=cast.site, given_name="Fresh", now=now)
    assert queries.client_for(cast.mina.user, cast.ada.public_id) == cast.ada
    assert queries.client_for(cast.mina.user, fresh.public_id) == fresh
    with pytest.raises(NotThere):
        queries.client_for(cast.mina.user, cast.bo.public_id)


def test_the_desk_sees_contacts_but_nothing_clinical(cast, browse):
    address = f"/clients/{cast.ada.public_id}/"
    desk, clinician = (browse(user).get(address).content.decode() for user in (cast.desk.user, cast.mina.user))
    assert "+447700900101" in desk
    assert "Stiff left hip" not in desk
    assert "Stiff left hip" in clinician


def test_the_newest_answer_about_messages_counts(cast, now):
    set_consent(by=cast.desk.user, client=cast.ada, channel=Channel.EMAIL, granted=False, now=now)
    assert queries.consents_to(cast.ada, Channel.EMAIL) is False
    set_consent(by=cast.desk.user, client=cast.ada, channel=Channel.EMAIL, granted=True, now=now)
    assert queries.consents_to(cast.ada, Channel.EMAIL) is True


def test_consent_is_never_overwritten(cast, now):
    row = Consent.objects.filter(client=cast.ada).first()
    row.granted = False
    with pytest.raises(TypeError, match="append-only"):
        row.save()
    with pytest.raises(Exception, match="append-only"), connection.cursor() as cursor:
        cursor.execute("UPDATE people_consent SET granted = %s WHERE id = %s", [False, row.pk])


@pytest.mark.parametrize("extra", [1, 3])
def test_the_client_list_costs_the_same_however_long(cast, browse, now, extra, django_assert_num_queries):
    for number in range(extra):
        register_client(by=cast.desk.user, site=cast.site, given_name=f"Extra {number}", now=now)
    browser = browse(cast.desk.user)
    browser.get("/clients/")
    with django_assert_num_queries(4):   # session, user, count, rows with their site
        browser.get("/clients/")


def test_the_api_registers_once_under_one_key(cast, browse):
    browser = browse(cast.desk.user)
    body = {"site": "Harbour Lane", "given_name": "Cleo"}
    first, second = (
        browser.post("/api/v1/clients", body, content_type="application/json", headers={"Idempotency-Key": "k1"})
        for _ in range(2)
    )
    assert (first.status_code, second.status_code, first.json()) == (201, 201, second.json())
    assert Client.objects.filter(given_name="Cleo").count() == 1
    other = browser.post(
        "/api/v1/clients", {**body, "given_name": "Clio"}, content_type="application/json",
        headers={"Idempotency-Key": "k1"},
    )
    assert (other.status_code, other.json()["title"]) == (422, "key_reused")


def test_api_errors_are_problem_details(cast, browse):
    answer = browse(cast.desk.user).post("/api/v1/clients", {"site": "Harbour Lane"}, content_type="application/json")
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["errors"] == {"given_name": ["This field is required."]}


@pytest.mark.parametrize("address", ["/clients/?q=%00", "/clients/%00/", "/clients/?q=a%0d"])
def test_control_characters_in_an_address_are_refused(cast, browse, address):
    assert browse(cast.desk.user).get(address).status_code in {400, 404}


def test_an_episode_needs_a_clinician_of_the_site(cast, browse):
    answer = browse(cast.desk.user).post(
        f"/api/v1/clients/{cast.ada.public_id}/episodes",
        {"lead": str(cast.desk.public_id), "region": "hip", "complaint": "Hip"}, content_type="application/json",
    )
    assert (answer.status_code, list(answer.json()["errors"])) == (400, ["lead"])
    assert Episode.objects.filter(client=cast.ada).count() == 1


def test_a_key_whose_process_died_is_free_again_after_two_minutes(cast, browse):
    body = {"site": "Harbour Lane", "given_name": "Cleo"}

    def ask():
        return browse(cast.desk.user).post(
            "/api/v1/clients", body, content_type="application/json", headers={"Idempotency-Key": "k2"}
        )

    held = IdempotencyKey.objects.create(user=cast.desk.user, key="k2", request_hash="x", created=timezone.now())
    running = ask()
    assert (running.status_code, running.json()["title"], running["Retry-After"]) == (409, "still_running", "1")
    IdempotencyKey.objects.filter(pk=held.pk).update(created=timezone.now() - timedelta(minutes=3))
    assert ask().status_code == 409   # this answer clears the way
    assert ask().status_code == 201
