"""Setting right what is wrong about a client: by the desk, in the trail, and the way in only by the lead."""

from __future__ import annotations

import pytest
from allauth.account.models import EmailAddress
from django.core import mail

from clinic.people.actions.correct_client import correct_client
from clinic.people.models import AuditEvent, Client, User
from clinic.people.refusal import NotThere, Refusal
from tests.access.matrix_people import righting


def address(client):
    return f"/clients/{client.public_id}/details/"


def test_the_desk_sets_right_and_the_trail_knows_which_and_why(cast, browse):
    assert browse(cast.desk.user).post(address(cast.ada), righting(cast)).status_code == 302
    ada = Client.objects.get(pk=cast.ada.pk)
    assert (str(ada.birth_date), ada.phone, ada.language) == ("1984-05-18", "+447700900199", "es")
    event = AuditEvent.objects.get(verb="correct_client")
    assert (event.by, event.client) == (cast.desk.user, ada)
    assert event.detail == {"fields": ["birth_date", "phone", "language"], "why": "client_asked"}
    assert "900199" not in str(event.detail)


def test_nothing_different_is_nothing_done(cast, now):
    same = righting(cast) | {"birth_date": cast.ada.birth_date, "phone": cast.ada.phone, "language": "en"}
    assert correct_client(by=cast.desk.user, client=cast.ada, now=now, **same) == ()
    assert not AuditEvent.objects.filter(verb="correct_client").exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [("given_name", ""), ("phone", "12"), ("birth_date", "1850-01-01"), ("zone", "Nowhere/None"), ("why", "x"),
     ("language", "fr"), ("email", "new@client.example"), ("email", "")],
)
def test_what_cannot_be_used_is_named_and_what_was_typed_stays(cast, browse, field, value):
    answer = browse(cast.desk.user).post(address(cast.ada), righting(cast) | {field: value, "family_name": "Quillington"})
    assert answer.status_code == 400
    assert "Quillington" in answer.content.decode()
    assert Client.objects.get(pk=cast.ada.pk).family_name == "Quill"


def test_the_lead_changes_the_address_that_somebody_signs_in_with(cast, browse):
    EmailAddress.objects.create(user=cast.ada.user, email=cast.ada.email, verified=True, primary=True)
    told = righting(cast) | {"email": "Ada.New@client.example"}
    assert browse(cast.lead.user).post(address(cast.ada), told).status_code == 302
    assert Client.objects.get(pk=cast.ada.pk).email == "ada.new@client.example"
    assert User.objects.get(pk=cast.ada.user.pk).email == "ada.new@client.example"
    browse().post("/account/login/code/", {"email": "ada@client.example"})
    assert all("ada@client.example" not in letter.to or "link" not in letter.body for letter in mail.outbox)
    assert not EmailAddress.objects.filter(email="ada@client.example").exists()


def test_another_way_in_asks_the_lead_who_they_are(cast, settings, browse):
    settings.STEP_UP_REQUIRED = True
    lead = browse(cast.lead.user)
    told = righting(cast) | {"email": "new@client.example"}
    stopped = lead.post(address(cast.ada), told)
    assert stopped.url.startswith("/account/reauthenticate/")
    assert User.objects.get(pk=cast.ada.user.pk).email == cast.ada.email
    lead.post(stopped.url, {"password": "a long enough passphrase"})
    assert User.objects.get(pk=cast.ada.user.pk).email == "new@client.example"   # the library takes up what it stopped


def test_what_moves_no_way_in_asks_nobody(cast, settings, browse):
    settings.STEP_UP_REQUIRED = True
    told = righting(cast) | {"email": " ADA@client.example "}
    assert browse(cast.lead.user).post(address(cast.ada), told).status_code == 302
    assert Client.objects.get(pk=cast.ada.pk).phone == "+447700900199"


def test_an_address_of_somebody_else_is_refused(cast, now):
    told = righting(cast) | {"birth_date": cast.ada.birth_date, "email": cast.bo.email}
    with pytest.raises(Refusal, match="Somebody else"):
        correct_client(by=cast.lead.user, client=cast.ada, now=now, **told)


def test_a_first_address_makes_a_way_in(cast, now):
    walk_in = Client.objects.create(site=cast.site, given_name="Cleo", zone=cast.site.zone)
    told = righting(cast) | {"birth_date": None, "email": "cleo@client.example"}
    assert "email" in correct_client(by=cast.desk.user, client=walk_in, now=now, **told)
    assert Client.objects.get(pk=walk_in.pk).user.email == "cleo@client.example"


@pytest.mark.parametrize("who", ["ada", "bo"])
def test_nobody_corrects_themselves_past_the_desk(cast, now, who):
    told = righting(cast) | {"birth_date": cast.ada.birth_date}
    with pytest.raises(NotThere):
        correct_client(by=getattr(cast, who).user, client=cast.ada, now=now, **told)
