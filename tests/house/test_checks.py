"""Deploy problems are named before anybody is served."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.exceptions import ImproperlyConfigured

from clinic.project import checks, environment
from tests.reminders.test_push import PEM

SAFE = {
    "FULL": True,
    "DATABASES": {"default": {"ENGINE": "django.db.backends.postgresql"}},
    "REDIS_URL": "redis://redis:6379/0",
    "PUBLIC_URL": "https://clinic.test",
    "ALLOWED_HOSTS": ["clinic.test"],
    "SECRET_KEY": "k" * 32,
    "METRICS_TOKEN": "m" * 32,
    "SMS_URL": "https://gateway.test/send",
    "SMS_KEY": "s" * 32,
    "SMS_SIGNING_KEY": "whsec_" + "a" * 32,
    "PUSH_KEY": PEM,
    "PUSH_SECONDS": 15,
    "LEASE_SECONDS": 120,
    "EMAIL_TIMEOUT": 20,
    "DEFAULT_FROM_EMAIL": "desk@clinic.test",
    "EMAIL_HOST": "mail.test",
    "EMAIL_USE_TLS": True,
    "SECURE_PROXY_SSL_HEADER": ("HTTP_X_FORWARDED_PROTO", "https"),
}


@pytest.fixture(autouse=True)
def _no_secret_in_the_environment(monkeypatch):
    for name in checks.SECRETS:
        monkeypatch.delenv(name, raising=False)


def found(monkeypatch, **change) -> list[str]:
    monkeypatch.setattr(checks, "settings", SimpleNamespace(**{**SAFE, **change}))
    return [message.id for message in checks.deployment()]


def test_a_clinic_that_is_set_up_well_has_none(monkeypatch):
    assert found(monkeypatch) == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"DATABASES": {"default": {"ENGINE": "django.db.backends.sqlite3"}}}, "intervale.W001"),
        ({"REDIS_URL": ""}, "intervale.W002"),
        ({"PUBLIC_URL": "http://127.0.0.1:8000", "ALLOWED_HOSTS": ["127.0.0.1"]}, "intervale.W003"),
        ({"DEFAULT_FROM_EMAIL": "clinic@intervale.example"}, "intervale.W004"),
        ({"PUBLIC_URL": "http://clinic.test"}, "intervale.E001"),
        ({"ALLOWED_HOSTS": ["127.0.0.1", "localhost", "testserver"]}, "intervale.E002"),
        ({"ALLOWED_HOSTS": ["*"]}, "intervale.E002"),
        ({"ALLOWED_HOSTS": ["other.test"]}, "intervale.E003"),
        ({"SECRET_KEY": "k" * 31}, "intervale.E004"),
        ({"LEASE_SECONDS": 20, "PUSH_SECONDS": 3}, "intervale.E005"),
        ({"LEASE_SECONDS": 75}, "intervale.E011"),
        ({"PUSH_KEY": ""}, "intervale.I001"),
        ({"PUSH_KEY": "no key"}, "intervale.E010"),
        ({"METRICS_TOKEN": "m" * 31}, "intervale.E006"),
        ({"SMS_URL": "http://gateway.test/send"}, "intervale.E007"),
        ({"EMAIL_USE_TLS": False}, "intervale.E009"),
        ({"SECURE_PROXY_SSL_HEADER": None}, "intervale.W007"),
        ({"SMS_KEY": ""}, "intervale.W005"),
        ({"SMS_SIGNING_KEY": "whsec_" + "a" * 28}, "intervale.E008"),
        ({"SMS_SIGNING_KEY": "not base64"}, "intervale.E008"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_problem_is_named_by_its_code(monkeypatch, change, code):
    assert found(monkeypatch, **change) == [code]
    assert found(monkeypatch, **change, FULL=False) == []   # the embedded mode is one laptop


def test_a_secret_in_the_environment_is_warned_of_and_one_in_a_file_is_not(monkeypatch, tmp_path):
    path = tmp_path / "key"
    path.write_text("a secret\n", encoding="utf-8")
    monkeypatch.setenv("INTERVALE_SMS_KEY_FILE", str(path))
    assert found(monkeypatch) == []
    assert environment.text("INTERVALE_SMS_KEY") == "a secret"
    monkeypatch.setenv("INTERVALE_SMTP_PASSWORD", "seen by everybody")
    assert found(monkeypatch) == ["intervale.W006"]


def test_mail_in_the_open_is_fine_on_the_same_machine(monkeypatch):
    assert found(monkeypatch, EMAIL_USE_TLS=False, EMAIL_HOST="127.0.0.1") == []


def test_a_mode_of_pooling_is_one_of_three(monkeypatch):
    url = "postgres://a@127.0.0.1:5432/b"
    kept = environment.database(url, Path("."))
    assert (kept["CONN_MAX_AGE"], kept["CONN_HEALTH_CHECKS"], "pool" in kept["OPTIONS"]) == (60, True, False)
    monkeypatch.setenv("INTERVALE_DATABASE_POOL", "6")
    pooled = environment.database(url, Path("."))
    assert (pooled["CONN_MAX_AGE"], pooled["OPTIONS"]["pool"]["max_size"]) == (0, 6)
    monkeypatch.setenv("INTERVALE_DATABASE_POOL", "0")
    monkeypatch.setenv("INTERVALE_DATABASE_POOLER", "1")
    assert environment.database(url, Path("."))["DISABLE_SERVER_SIDE_CURSORS"] is True
    for wrong in ("-1", "many", "201"):
        monkeypatch.setenv("INTERVALE_DATABASE_POOL", wrong)
        with pytest.raises(ImproperlyConfigured, match="INTERVALE_DATABASE_POOL must be a whole number"):
            environment.database(url, Path("."))
