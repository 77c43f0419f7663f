"""A client arrives in their own language: the pages by what the browser asks for, the mail by what the clinic noted."""

import pytest
from django.core import mail
from django.test import Client
from django.utils import translation

from clinic.people.rules.language import first_spoken

SPANISH = {"HTTP_ACCEPT_LANGUAGE": "es-MX,es;q=0.9,en;q=0.5"}


# the header's form and the meaning of its weights: RFC 9110, section 12.5.4
@pytest.mark.parametrize(
    ("accepted", "language"),
    [
        ("es", "es"), ("es-MX,en;q=0.8", "es"), ("en-GB,es;q=0.9", "en-gb"), ("en;q=0.3, es;q=0.7", "es"),
        ("fr,de;q=0.9,es;q=0.2", "es"), ("es;q=0, en", "en-gb"), ("es;q=0", "en-gb"), ("fr", "en-gb"), ("", "en-gb"),
        ("*", "en-gb"), ("es;q=nan", "en-gb"), ("es;q=²", "en-gb"), (";;;,,,", "en-gb"), ("ES ; q=1.000", "es"),
    ],
)
def test_the_first_of_our_languages_that_a_browser_asks_for(accepted, language):
    assert first_spoken(accepted) == language


@pytest.mark.parametrize("address", ["/account/login/code/", "/sign-in/link/unknown/"])
def test_the_pages_of_signing_in_by_mail_speak_spanish_to_a_spanish_browser(client, db, address):
    answer = client.get(address, **SPANISH)
    page = answer.content.decode()
    assert '<html lang="es">' in page
    assert "Accept-Language" in answer.headers["Vary"]
    assert any(said in page for said in ("Un correo para entrar", "Hola de nuevo"))
    assert '<html lang="en">' in client.get(address).content.decode()
    assert translation.get_language() == "en-gb"


def test_a_members_page_stays_english(client, db):
    assert '<html lang="en">' in client.get("/account/login/", **SPANISH).content.decode()


def test_the_mail_is_in_the_clients_language_whatever_the_browser_asks_for(client, cast):
    cast.ada.language = "es-AR"
    cast.ada.save()
    client.post("/account/login/code/", {"email": cast.ada.user.email}, HTTP_ACCEPT_LANGUAGE="en")
    letter = mail.outbox[-1]
    assert letter.subject.endswith("Su correo para entrar")
    assert "Abra este enlace y pulse el botón para entrar:" in letter.body
    assert "durante 10 minutos" in letter.body
    Client().post("/account/login/code/", {"email": cast.bo.user.email}, **SPANISH)
    assert "Open this link and press the button to sign in:" in mail.outbox[-1].body


def test_a_spanish_client_is_told_in_spanish_to_look_into_the_mail(client, cast):
    page = client.post("/account/login/code/", {"email": cast.ada.user.email}, follow=True, **SPANISH).content.decode()
    assert "Mire su correo" in page
    wrong = client.post("/account/login/code/confirm/", {"code": "nonsense"}, **SPANISH).content.decode()
    assert "Escriba el código" in wrong
    assert "Incorrect code" not in wrong


def test_a_client_is_told_in_spanish_that_a_page_is_not_there_and_a_member_in_english(cast, browse):
    lost = browse(cast.ada.user).get("/portal/nowhere/", **SPANISH)
    assert lost.status_code == 404
    assert "Aquí no hay nada que usted pueda ver." in lost.content.decode()
    assert '<html lang="es">' in lost.content.decode()
    assert "There is nothing here that you can see." in browse(cast.ada.user).get("/portal/nowhere/").content.decode()
    assert "There is nothing here" in browse(cast.mina.user).get("/clients/nowhere/", **SPANISH).content.decode()
