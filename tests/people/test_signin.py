"""Signing in: clients by a mailed link or code, staff by password, nobody by guessing."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.test import Client as Browser

from clinic.people.models import SignInLink, User
from clinic.people.signin import hash_token, new_link
from clinic.reminders.models import InboxMessage

ASK, CONFIRM = "/account/login/code/", "/account/login/code/confirm/"


@pytest.fixture(autouse=True)
def _inbox(settings):
    settings.EMAIL_BACKEND = "clinic.reminders.inbox.InboxBackend"


def ask_for_mail(browser, address):
    return browser.post(ASK, {"email": address})


def link_in_mail(to):
    body = InboxMessage.objects.filter(to=to).first().body
    return re.search(r"http://\S+(/sign-in/link/\S+/)", body)[1]


def test_a_client_signs_in_by_the_link_in_the_mail(cast):
    browser = Browser()
    ask_for_mail(browser, "ada@client.example")
    address = link_in_mail("ada@client.example")
    assert "Press the button" in browser.get(address).content.decode()
    answer = browser.post(address)
    assert (answer.status_code, answer["Location"]) == (302, "/portal/")
    assert int(browser.session["_auth_user_id"]) == cast.ada.user.pk


def test_a_mail_scanner_that_opens_the_link_uses_nothing_up(cast):
    address = new_link(cast.ada.user).removeprefix("http://127.0.0.1:8000")
    for _ in range(3):
        scanner = Browser()
        scanner.get(address)
        scanner.head(address)
        assert "_auth_user_id" not in scanner.session
    assert Browser().post(address).status_code == 302


def test_a_link_works_once(cast):
    address = new_link(cast.ada.user).removeprefix("http://127.0.0.1:8000")
    assert Browser().post(address).status_code == 302
    second = Browser()
    assert second.post(address).status_code == 410
    assert "_auth_user_id" not in second.session


def test_a_link_is_dead_after_ten_minutes_but_alive_just_before(cast, now):
    with time_machine.travel(now, tick=False):
        early, late = new_link(cast.bo.user), new_link(cast.ada.user)
    with time_machine.travel(now + timedelta(minutes=9, seconds=59), tick=False):
        assert Browser().post(early.removeprefix("http://127.0.0.1:8000")).status_code == 302
    with time_machine.travel(now + timedelta(minutes=10, seconds=1), tick=False):
        assert Browser().post(late.removeprefix("http://127.0.0.1:8000")).status_code == 410


def test_a_newer_link_replaces_the_older(cast):
    older, newer = new_link(cast.ada.user), new_link(cast.ada.user)
    assert Browser().post(older.removeprefix("http://127.0.0.1:8000")).status_code == 410
    assert Browser().post(newer.removeprefix("http://127.0.0.1:8000")).status_code == 302


def test_only_the_hash_of_a_link_is_kept(cast):
    token = new_link(cast.ada.user).rstrip("/").rsplit("/", 1)[1]
    row = SignInLink.objects.get()
    assert row.token_hash == hash_token(token)
    assert token not in str(vars(row))


def test_the_code_in_the_mail_works_too(cast):
    browser = Browser()
    ask_for_mail(browser, "ada@client.example")
    code = re.search(r"asked for it: (\S+)", InboxMessage.objects.get().body)[1]
    assert browser.post(CONFIRM, {"code": code}).status_code == 302
    assert int(browser.session["_auth_user_id"]) == cast.ada.user.pk


def test_an_unknown_address_gets_the_same_answer_on_screen(cast):
    known, unknown = ask_for_mail(Browser(), "ada@client.example"), ask_for_mail(Browser(), "nobody@client.example")
    assert (known.status_code, known["Location"]) == (unknown.status_code, unknown["Location"])
    assert "link" not in InboxMessage.objects.get(to="nobody@client.example").body.split("clinic")[0].lower()


def test_staff_get_no_code_by_mail(cast):
    browser = Browser()
    answer = ask_for_mail(browser, "mina@harbour.example")
    assert answer["Location"].endswith(CONFIRM)
    body = InboxMessage.objects.get().body
    assert "password and a second factor" in body
    assert "sign-in/link" not in body


def test_staff_sign_in_with_their_password(cast):
    browser = Browser()
    wrong = browser.post("/account/login/", {"login": "mina@harbour.example", "password": "not this one at all"})
    assert wrong.status_code == 200
    answer = browser.post("/account/login/", {"login": "mina@harbour.example", "password": "a long enough passphrase"})
    assert (answer.status_code, answer["Location"]) == (302, "/caseload/")


def test_where_the_second_factor_is_required_staff_cannot_go_on_without_it(cast, browse, settings):
    settings.STAFF_SECOND_FACTOR_REQUIRED = True
    assert browse(cast.mina.user).get("/clients/")["Location"] == "/account/2fa/totp/activate/"
    assert browse(cast.ada.user).get("/")["Location"] == "/portal/"


def test_a_deactivated_person_is_out_at_the_next_request(cast, browse):
    browser = browse(cast.mina.user)
    assert browser.get("/clients/").status_code == 200
    User.objects.filter(pk=cast.mina.user.pk).update(is_active=False)
    assert browser.get("/clients/")["Location"].startswith("/account/login/")


def test_a_staff_session_ends_with_the_shift_and_a_clients_does_not(cast, browse, now):
    with time_machine.travel(now, tick=False):
        staff, client = browse(cast.mina.user), browse(cast.ada.user)
        staff.get("/clients/")
        client.get("/")
    with time_machine.travel(now + timedelta(hours=13), tick=False):
        assert staff.get("/clients/")["Location"].startswith("/account/login/")
        assert client.get("/")["Location"] == "/portal/"


def test_nobody_signs_up_and_addresses_are_changed_at_the_desk(cast, browse):
    assert Browser().get("/account/signup/").status_code == 404
    assert browse(cast.ada.user).get("/account/email/").status_code == 404


def test_staff_without_a_password_choose_one_by_mail(cast):
    cast.theo.user.set_unusable_password()
    cast.theo.user.save()
    Browser().post("/account/password/reset/", {"email": "theo@harbour.example"})
    address = re.search(r"http://\S+?(/account/password/reset/key/\S+)", InboxMessage.objects.get().body)[1]
    browser = Browser()
    form = browser.get(address, follow=True).redirect_chain[-1][0]
    short = browser.post(form, {"password1": "fourteen chars", "password2": "fourteen chars"})
    assert "at least 15 characters" in short.content.decode()
    browser.post(form, {"password1": "seven quiet herons", "password2": "seven quiet herons"})
    answer = Browser().post("/account/login/", {"login": "theo@harbour.example", "password": "seven quiet herons"})
    assert answer["Location"] == "/caseload/"


def test_guessing_is_slowed_and_locks_nobody_else_out(cast):
    for _ in range(8):
        Browser().post("/account/login/", {"login": "mina@harbour.example", "password": "wrong wrong wrong wrong"})
    held = Browser().post("/account/login/", {"login": "mina@harbour.example", "password": "a long enough passphrase"})
    assert held.status_code != 302
    other = Browser().post("/account/login/", {"login": "theo@harbour.example", "password": "a long enough passphrase"})
    assert other["Location"] == "/caseload/"
