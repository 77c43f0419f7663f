"""Deploy problems as system checks. `E` stops migrate, web and workers in full mode; `W` is printed."""

from __future__ import annotations

import os
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Error, Info, Warning, register

from clinic.reminders.rules.endpoint import MOST_DEVICES
from clinic.reminders.rules.signed import key_of
from clinic.reminders.sealing import key_of as vapid_key

SECRET_LENGTH = 32
SECRETS = (
    "INTERVALE_SECRET_KEY", "INTERVALE_SECRET_KEY_OLD", "INTERVALE_DATABASE_PASSWORD", "INTERVALE_SMTP_PASSWORD",
    "INTERVALE_SMS_KEY", "INTERVALE_SMS_SIGNING_KEY", "INTERVALE_PUSH_KEY", "INTERVALE_METRICS_TOKEN",
)
_LOOPBACK = {"127.0.0.1", "localhost", "::1"}


@register("intervale")
def deployment(**kwargs: Any) -> list[CheckMessage]:
    """What is unsafe or will not work in full mode. The embedded mode is one laptop and has none of these."""
    if not settings.FULL:
        return []
    return [*_services(), *_addresses(), *_secrets(), *_tokens(), *_texts(), *_push(), *_mail(), *_in_the_open()]


def _services() -> list[CheckMessage]:
    found: list[CheckMessage] = []
    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        found.append(
            Warning(
                "Full mode runs on SQLite: one writer at a time, on one machine.",
                hint="Set INTERVALE_DATABASE=postgres://…",
                id="intervale.W001",
            )
        )
    if not settings.REDIS_URL:
        found.append(
            Warning(
                "Full mode has no Redis: each web process counts sign-in attempts for itself, and a folder is the queue.",
                hint="Set INTERVALE_REDIS=redis://…",
                id="intervale.W002",
            )
        )
    return found


def _addresses() -> list[CheckMessage]:
    found: list[CheckMessage] = []
    public = urlsplit(settings.PUBLIC_URL)
    if public.scheme != "https":
        local = public.hostname in _LOOPBACK
        kind, code = (Warning, "intervale.W003") if local else (Error, "intervale.E001")
        found.append(
            kind(
                f"INTERVALE_URL is {public.scheme}://: passwords, sessions and clients' answers travel in the open.",
                hint="Serve Intervale over https:// and set INTERVALE_URL to that address.",
                id=code,
            )
        )
    if public.scheme == "https" and not settings.SECURE_PROXY_SSL_HEADER:
        found.append(
            Warning(
                "INTERVALE_URL is https:// and INTERVALE_BEHIND_PROXY is not 1: each request looks as if it came in the "
                "open, and browsers are not told to stay with https.",
                hint="Set INTERVALE_BEHIND_PROXY=1 where a proxy ends TLS and sets X-Forwarded-Proto itself.",
                id="intervale.W007",
            )
        )
    if {"testserver", "*"} & set(settings.ALLOWED_HOSTS):
        found.append(
            Error(
                "INTERVALE_HOSTS is not set, or open to any host: links in mails could point anywhere.",
                hint="Set INTERVALE_HOSTS to the names people open, parted by commas.",
                id="intervale.E002",
            )
        )
    elif public.hostname not in settings.ALLOWED_HOSTS:
        found.append(
            Error(
                f"INTERVALE_HOSTS does not hold {public.hostname}, the host of INTERVALE_URL: a mailed link leads nowhere.",
                id="intervale.E003",
            )
        )
    return found


def _in_the_open() -> list[CheckMessage]:
    """Secrets that stand where every list of processes and every description of a container shows them."""
    return [
        Warning(
            f"{name} is in the environment, where a list of processes or a description of the container shows it.",
            hint=f"Put it into a file that only we can read and name that in {name}_FILE.",
            id="intervale.W006",
        )
        for name in SECRETS
        if os.environ.get(name)
    ]


def _secrets() -> list[CheckMessage]:
    if len(settings.SECRET_KEY) >= SECRET_LENGTH:
        return []
    return [
        Error(
            f"The secret key has {len(settings.SECRET_KEY)} characters; it signs every session and needs {SECRET_LENGTH}.",
            id="intervale.E004",
        )
    ]


def _tokens() -> list[CheckMessage]:
    short = [name for name in ("METRICS_TOKEN",) if 0 < len(getattr(settings, name)) < SECRET_LENGTH]
    return [
        Error(
            f"INTERVALE_{name} is shorter than {SECRET_LENGTH} characters: it can be guessed.",
            hint="Make one with `openssl rand -hex 32`.",
            id="intervale.E006",
        )
        for name in short
    ]


def _texts() -> list[CheckMessage]:
    found: list[CheckMessage] = []
    gateway = urlsplit(settings.SMS_URL)
    if settings.SMS_URL and gateway.scheme != "https" and not (gateway.scheme == "http" and gateway.hostname in _LOOPBACK):
        found.append(
            Error("INTERVALE_SMS_URL is not https://: names and numbers would travel in the open.", id="intervale.E007")
        )
    if settings.SMS_URL and not settings.SMS_KEY:
        found.append(Warning("INTERVALE_SMS_URL is set and INTERVALE_SMS_KEY is not.", id="intervale.W005"))
    if settings.SMS_SIGNING_KEY:
        try:
            key_of(settings.SMS_SIGNING_KEY)
        except ValueError as error:
            found.append(Error(f"INTERVALE_SMS_SIGNING_KEY cannot be used: {error}.", id="intervale.E008"))
    return found


def _push() -> list[CheckMessage]:
    if not settings.PUSH_KEY:
        return [
            Info(
                "INTERVALE_PUSH_KEY is not set: clients cannot choose notifications on their devices.",
                hint="Make one with `openssl genpkey -algorithm EC -pkeyopt ec_paramgen_curve:P-256`.", id="intervale.I001",
            )
        ]
    try:
        vapid_key(settings.PUSH_KEY)
    except ValueError as error:
        return [Error(f"INTERVALE_PUSH_KEY cannot be used: {error}.", id="intervale.E010")]
    longest = MOST_DEVICES * settings.PUSH_SECONDS
    if longest < settings.LEASE_SECONDS:
        return []
    return [
        Error(
            f"INTERVALE_LEASE_SECONDS is {settings.LEASE_SECONDS}, no longer than the {longest} s that a notification may "
            f"take to {MOST_DEVICES} devices: a second worker would send it again.", id="intervale.E011",
        )
    ]


def _mail() -> list[CheckMessage]:
    found: list[CheckMessage] = []
    if settings.LEASE_SECONDS <= settings.EMAIL_TIMEOUT:
        found.append(
            Error(
                f"INTERVALE_LEASE_SECONDS is {settings.LEASE_SECONDS}, no longer than one slow mail may take "
                f"({settings.EMAIL_TIMEOUT} s): a second worker would send it again.",
                id="intervale.E005",
            )
        )
    if not settings.EMAIL_USE_TLS and settings.EMAIL_HOST not in _LOOPBACK:
        found.append(
            Error(
                "INTERVALE_SMTP_TLS is off and the mail server is another machine: first names, times and the mailbox's "
                "password would travel in the open.",
                id="intervale.E009",
            )
        )
    if settings.DEFAULT_FROM_EMAIL.endswith((".example", ".invalid")):
        found.append(
            Warning(
                f"INTERVALE_FROM is {settings.DEFAULT_FROM_EMAIL}, which cannot receive an answer.", id="intervale.W004"
            )
        )
    return found
