"""What OWASP ASVS 5.0 asks of passwords, sessions, cookies and headers, each asked of the running thing."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client as Browser
from django.urls import reverse

ROOT = Path(__file__).resolve().parents[2]
PASSPHRASE = "a long enough passphrase"


@pytest.mark.parametrize("refused", ["elevenchars", "fourteen chars", "123456789987654321"])
def test_short_and_common_passwords_are_refused(refused):
    """v5.0.0-6.2.1, 6.2.4: at least eight letters, fifteen advised; common ones refused."""
    with pytest.raises(ValidationError):
        validate_password(refused)


@pytest.mark.parametrize("taken", ["fifteen letters", "all lower case too", "Umläute: äöü sind gut", "x" * 64 + " long"])
def test_length_is_all_that_is_asked(taken):
    """v5.0.0-6.2.5, 6.2.9: no rules of composition, 64 letters and more are taken."""
    validate_password(taken)


def test_signing_in_gives_a_new_session(cast):
    """v5.0.0-7.2.4."""
    browser = Browser()
    browser.get("/account/login/")
    session = browser.session
    session["planted"] = True
    session.save()
    before = session.session_key
    browser.cookies["session"] = before
    browser.post("/account/login/", {"login": cast.mina.user.email, "password": PASSPHRASE})
    assert browser.session.session_key != before
    assert "_auth_user_id" in browser.session


def test_signing_out_ends_the_session_on_the_server(cast):
    """v5.0.0-7.4.1: the old cookie opens nothing afterwards."""
    browser = Browser()
    browser.post("/account/login/", {"login": cast.mina.user.email, "password": PASSPHRASE})
    kept = browser.cookies["session"].value
    browser.post("/account/logout/")
    thief = Browser()
    thief.cookies["session"] = kept
    assert thief.get(reverse("people:clients")).status_code == 302


def test_every_page_says_what_the_browser_may_do(cast, browse):
    """v5.0.0-3.4.3 to 3.4.6 and 14.3.2."""
    answer = browse(cast.mina.user).get(reverse("people:clients"))
    policy = answer["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    for rule in ("object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"):
        assert rule in policy
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cache-Control"] == "no-store"


ASKED = (
    "SESSION_COOKIE_NAME", "SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE",
    "CSRF_COOKIE_SECURE", "SECURE_HSTS_SECONDS", "DEBUG", "STAFF_SECOND_FACTOR_REQUIRED", "STEP_UP_REQUIRED",
)


def test_a_served_clinic_has_closed_cookies_and_asks_for_the_second_factor(tmp_path):
    """v5.0.0-3.3.1 to 3.3.4, 3.4.1, 6.3.3, 7.5.3, 13.4.2, read off the full mode in a process of its own."""
    code = (
        "import json, django; django.setup(); from django.conf import settings; "
        f"print(json.dumps({{name: getattr(settings, name) for name in {ASKED!r}}}))"
    )
    environment = {
        **os.environ, "DJANGO_SETTINGS_MODULE": "clinic.project.settings", "INTERVALE_MODE": "full", "INTERVALE_DEMO": "0",
        "INTERVALE_SECRET_KEY": "k" * 60, "INTERVALE_URL": "https://clinic.example", "INTERVALE_DATA": str(tmp_path),
        "INTERVALE_DATABASE": "postgres://nobody@127.0.0.1/nothing", "INTERVALE_STATIC": str(tmp_path / "static"),
    }
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == {
        "SESSION_COOKIE_NAME": "__Host-session", "SESSION_COOKIE_SECURE": True, "SESSION_COOKIE_HTTPONLY": True,
        "SESSION_COOKIE_SAMESITE": "Lax", "CSRF_COOKIE_SECURE": True, "SECURE_HSTS_SECONDS": 31536000, "DEBUG": False,
        "STAFF_SECOND_FACTOR_REQUIRED": True, "STEP_UP_REQUIRED": True,
    }
