"""Signing in with a passkey, in Chromium with a virtual authenticator (W3C Web Authentication, 11: user agent automation)."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from clinic.people.signin import has_second_factor, new_link

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def with_authenticator(page) -> None:
    devtools = page.context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
        "isUserVerified": True, "automaticPresenceSimulation": True,
    }
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": options})


def test_a_client_adds_one_and_signs_in_with_it_and_the_mail_still_works(cast, person, live_server, settings):
    settings.PUBLIC_URL = live_server.url
    # what is kept for days without signal is fetched in the background; signing out cuts that off, which is not asked here
    page = person(service_workers="block")
    with_authenticator(page)
    page.goto(new_link(cast.ada.user))
    page.locator("main button").click()
    page.goto("/portal/passkeys/")
    page.get_by_role("button", name="Add a passkey").click()
    expect(page.get_by_text("The passkey is added.")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/account/login/**")
    page.get_by_role("button", name="Use my passkey").click()
    expect(page.get_by_role("heading", name="Hello Ada")).to_be_visible()
    assert not has_second_factor(cast.ada.user)   # a code from a mail is enough by itself
    page.goto("/portal/passkeys/")
    page.get_by_role("button", name="Remove it").click()
    expect(page.get_by_text("The passkey is removed.")).to_be_visible()


def test_somebody_without_one_is_told_so(person):
    page = person()
    page.add_init_script("navigator.credentials.get = () => Promise.reject(new DOMException('no', 'NotAllowedError'));")
    page.goto("/account/login/")
    page.get_by_role("button", name="Use my passkey").click()
    expect(page.get_by_text("That did not work. Sign in the other way.")).to_be_visible()


def test_a_clinician_s_passkey_is_a_second_factor(cast, person):
    page = person()
    with_authenticator(page)
    page.goto("/account/login/")
    page.get_by_label("Mail address").fill("mina@harbour.example")
    page.get_by_label("Password").fill("a long enough passphrase")
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url("**/caseload/")
    page.goto("/account/2fa/webauthn/add/")
    page.locator("input[type=password]").fill("a long enough passphrase")   # asked once more before keys are touched
    page.locator("main button[type=submit]").first.click()
    page.locator("input[name=passwordless]").check()
    page.locator("#mfa_webauthn_add").click()
    expect(page.get_by_text("The passkey is added.")).to_be_visible()
    assert has_second_factor(cast.mina.user)
    page.goto("/account/2fa/webauthn/")
    expect(page.get_by_role("heading", name="Passkeys")).to_be_visible()
