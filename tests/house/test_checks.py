"""Deploy problems are named before anybody is served."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from clinic.project import checks

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
    "LEASE_SECONDS": 120,
    "EMAIL_TIMEOUT": 20,
    "DEFAULT_FROM_EMAIL": "desk@clinic.test",
}


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
        ({"LEASE_SECONDS": 20}, "intervale.E005"),
        ({"METRICS_TOKEN": "m" * 31}, "intervale.E006"),
        ({"SMS_URL": "http://gateway.test/send"}, "intervale.E007"),
        ({"SMS_KEY": ""}, "intervale.W005"),
        ({"SMS_SIGNING_KEY": "whsec_" + "a" * 28}, "intervale.E008"),
        ({"SMS_SIGNING_KEY": "not base64"}, "intervale.E008"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_problem_is_named_by_its_code(monkeypatch, change, code):
    assert found(monkeypatch, **change) == [code]
    assert found(monkeypatch, **change, FULL=False) == []   # the embedded mode is one laptop
