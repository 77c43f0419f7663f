"""A client asks to have something set right; the desk or the clinician answers; the client reads it."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from clinic.people.actions.answer_correction import answer_correction
from clinic.people.actions.ask_correction import ask_correction
from clinic.people.models import AuditEvent, Client, Correction
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules.plain_words import has_controls, tidy
from clinic.reminders.digests import counts_for
from clinic.trust.actions.erase_person import erase_person

PORTAL = "/portal/details/"
WRONG = "My name is written Quille"
LIST_QUERIES, OWN_QUERIES, OWN_API_QUERIES = 5, 7, 3


@pytest.fixture
def ask(cast, now):
    def asked(client=None, words=WRONG, later=0):
        return ask_correction(by=(client or cast.ada).user, words=words, now=now + timedelta(minutes=later))

    return asked


def test_from_the_portal_to_the_answer_and_back(cast, browse):
    ada, desk = browse(cast.ada.user), browse(cast.desk.user)
    page = ada.get(PORTAL).content.decode()
    for held in (cast.ada.given_name, cast.ada.family_name, cast.ada.email, "17 May 1984", "London"):
        assert held in page
    assert ada.post(PORTAL, {"words": WRONG}).status_code == 302
    asked = Correction.objects.get()
    assert Client.objects.get(pk=cast.ada.pk).family_name == "Quill"   # nothing changes by asking
    assert WRONG in desk.get(f"/clients/{cast.ada.public_id}/").content.decode()
    assert WRONG in desk.get("/clients/corrections/").content.decode()
    told = {"outcome": "declined", "reason": "Bring your passport, please"}
    assert desk.post(f"/clients/corrections/{asked.public_id}/", told).status_code == 302
    assert WRONG not in desk.get(f"/clients/{cast.ada.public_id}/").content.decode()
    assert WRONG not in desk.get("/clients/corrections/").content.decode()
    page = ada.get(PORTAL).content.decode()
    assert "Bring your passport, please" in page
    assert "Left as it is" in page
    assert ada.post(PORTAL, {"words": "And the date"}).status_code == 302   # answered: the next one may come


def test_the_trail_holds_who_and_what_became_of_it_and_no_words(cast, ask, now):
    asked = ask()
    answer_correction(by=cast.mina.user, correction=asked, outcome="done", reason="Thank you", now=now)
    rows = AuditEvent.objects.filter(record=f"correction:{asked.public_id}").order_by("pk")
    assert [(row.verb, row.by, row.client) for row in rows] == [
        ("ask_correction", cast.ada.user, cast.ada), ("answer_correction", cast.mina.user, cast.ada),
    ]
    assert rows[1].detail == {"outcome": "done"}


def test_one_waits_at_a_time_and_what_was_typed_stays(cast, browse, ask):
    ask()
    answer = browse(cast.ada.user).post(PORTAL, {"words": "Something else & more"})
    assert answer.status_code == 409
    assert "We still look at what you asked for before." in answer.content.decode()
    assert "Something else &amp; more" in answer.content.decode()
    assert Correction.objects.get().words == WRONG


def test_the_database_holds_one_open_and_whole_answers(cast, ask, now):
    asked = ask()
    with pytest.raises(IntegrityError), transaction.atomic():
        Correction.objects.create(client=cast.ada, words="x", asked=now)
    for wrong in ({"outcome": "done"}, {"answered": now}, {"answered": now, "outcome": "sideways"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Correction.objects.filter(pk=asked.pk).update(**wrong)


def test_five_hundred_letters_and_one(cast, ask, browse):
    assert ask(words="é" * 500).words == "é" * 500
    Correction.objects.all().delete()
    for words in ("é" * 501, "", "  \n ", "a\x1bb"):
        with pytest.raises(Refusal) as refused:
            ask(words=words)
        assert (refused.value.status, set(refused.value.fields)) == (400, {"words"})
    answer = browse(cast.ada.user).post(PORTAL, {"words": "é" * 501})
    assert answer.status_code == 400
    assert "é" * 501 in answer.content.decode()
    assert not Correction.objects.exists()


def test_a_line_counts_as_one_sign_whatever_the_browser_sends():
    assert tidy(" one \r\n two\rthree\n\n") == "one\ntwo\nthree"
    assert not has_controls("one\ntwo\u00e9")
    assert has_controls("one\ttwo")


def test_leaving_it_needs_a_reason_and_an_answer_is_given_once(cast, browse, ask, now):
    asked = ask()
    desk = browse(cast.desk.user)
    for told in (
        {"outcome": "declined", "reason": " "}, {"reason": "Kept as typed"}, {"outcome": "open", "reason": "Kept as typed"},
        {"outcome": "done", "reason": "z" * 501},
    ):
        answer = desk.post(f"/clients/corrections/{asked.public_id}/", told)
        assert answer.status_code == 400
        assert told["reason"].strip() in answer.content.decode()
    assert Correction.objects.get().outcome == "open"
    answer_correction(by=cast.desk.user, correction=asked, outcome="done", reason="", now=now)
    with pytest.raises(Refusal, match="answered this already"):
        answer_correction(by=cast.lead.user, correction=asked, outcome="declined", reason="No", now=now)
    assert desk.post(f"/clients/corrections/{asked.public_id}/", {"outcome": "declined", "reason": "No"}).status_code == 409
    assert Correction.objects.get().outcome == "done"


def test_strangers_and_clients_answer_nothing(cast, ask, now):
    asked = ask()
    for user in (cast.theo.user, cast.ada.user, cast.bo.user):
        with pytest.raises(NotThere):
            answer_correction(by=user, correction=asked, outcome="done", reason="", now=now)


def test_over_the_api(cast, browse):
    ada = browse(cast.ada.user)
    assert ada.get("/api/v1/me/details").json() == {
        "given_name": "Ada", "family_name": "Quill", "birth_date": "1984-05-17", "email": cast.ada.email,
        "phone": cast.ada.phone, "language": "en", "zone": cast.ada.zone,
    }
    key = {"Idempotency-Key": str(uuid.uuid4())}

    def post(words, **headers):
        body = json.dumps({"words": words})
        return ada.post("/api/v1/me/corrections", body, content_type="application/json", headers=headers)

    first, again = post(WRONG, **key), post(WRONG, **key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    second = post("Another thing")
    assert (second.status_code, second.json()["title"]) == (409, "asked_already")
    assert post("z" * 501).status_code == 400
    rows = ada.get("/api/v1/me/corrections").json()["results"]
    assert [(row["words"], row["outcome"], row["answered"], row["reason"]) for row in rows] == [(WRONG, "open", None, "")]
    assert browse(cast.bo.user).get("/api/v1/me/corrections").json()["results"] == []


def test_the_lists_cost_the_same_for_one_and_three(cast, browse, ask, now, django_assert_num_queries):
    desk, ada = browse(cast.desk.user), browse(cast.ada.user)
    ask()
    for number in range(3):
        if number:
            more = Client.objects.create(site=cast.site, given_name=f"Cleo {number}", zone=cast.site.zone)
            Correction.objects.create(client=more, words="Wrong", asked=now)
            Correction.objects.create(
                client=cast.ada, words="Before", asked=now, outcome="done", answered=now, answered_by=cast.desk.user
            )
        for browser, address, queries in (
            (desk, "/clients/corrections/", LIST_QUERIES), (ada, PORTAL, OWN_QUERIES),
            (ada, "/api/v1/me/corrections", OWN_API_QUERIES),
        ):
            browser.get(address)   # the first request renews the session
            with django_assert_num_queries(queries):
                browser.get(address)


def test_the_list_is_paged_oldest_first(cast, browse, now):
    for number in range(26):
        client = Client.objects.create(site=cast.site, given_name=f"Cleo {number}", zone=cast.site.zone)
        Correction.objects.create(client=client, words=f"Wrong {number:02}", asked=now + timedelta(minutes=number))
    desk = browse(cast.desk.user)
    first, second = (desk.get(f"/clients/corrections/?page={number}").content.decode() for number in (1, 2))
    assert "Wrong 00" in first
    assert "Wrong 25" not in first
    assert "Wrong 25" in second


def test_the_desk_is_told_a_number_and_a_clinician_is_not(cast, ask, now):
    ask()
    ask(cast.bo)
    assert "2 requests to set details right" in counts_for(cast.desk.user, now, "Europe/London")
    assert "set details right" not in counts_for(cast.mina.user, now, "Europe/London")


def test_it_goes_with_the_person(cast, ask, now):
    ask()
    ask(cast.bo)
    erase_person(by=cast.lead.user, client=cast.ada, name="Ada Quill", now=now)
    assert list(Correction.objects.values_list("client", flat=True)) == [cast.bo.pk]


def test_in_spanish(cast, browse, ask):
    Client.objects.filter(pk=cast.ada.pk).update(language="es")
    ask()
    page = browse(cast.ada.user).get(PORTAL).content.decode()
    for said in ("Mis datos", "17 de mayo de 1984", "Aún lo vemos"):
        assert said in page
    assert "Aún vemos lo que pidió antes." in browse(cast.ada.user).post(PORTAL, {"words": "x"}).content.decode()
