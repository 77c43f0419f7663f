"""Sign-in, on django-allauth: clients by mailed code or link, staff by password and a second factor."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from datetime import timedelta
from typing import Any, cast

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.decorators import reauthentication_required
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.utils import is_mfa_enabled
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone, translation

from clinic.people.models import Client, SignInLink, User
from clinic.people.navigation import START
from clinic.people.rules.language import spoken_language
from clinic.people.vocab import Role


def has_second_factor(user: User) -> bool:
    """Whether a second factor is set up."""
    return bool(is_mfa_enabled(user))


def hash_token(token: str) -> str:
    """SHA-256 of a link's secret part: only this is stored."""
    return hashlib.sha256(token.encode()).hexdigest()


def new_link(user: User) -> str:
    """A fresh single-use link, valid ten minutes; older unused links of this person die with it."""
    now = timezone.now()
    token = secrets.token_urlsafe(32)
    SignInLink.objects.filter(user=user, used_at__isnull=True).delete()
    SignInLink.objects.create(
        user=user,
        token_hash=hash_token(token),
        created=now,
        expires=now + timedelta(seconds=settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT),
    )
    return settings.PUBLIC_URL + reverse("people:link", args=[token])


class SecondFactor(DefaultMFAAdapter):
    """A client's passkey is one more way in, never one more thing to have: the mailed code goes on working without it."""

    def is_mfa_enabled(self, user: Any, types: Any = None) -> bool:
        """Whether signing in asks for a second factor; staff only."""
        return getattr(user, "role", None) != Role.CLIENT and bool(super().is_mfa_enabled(user, types=types))


def _language_of(email: str) -> str:
    """The language of a client with that address; English for anybody else."""
    client = Client.objects.filter(user__email=email.lower()).first()
    return spoken_language(client.language if client else "")


class Adapter(DefaultAccountAdapter):
    """Nobody signs up by themselves; the code mail to a client carries a link beside the code."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        if template_prefix == "account/email/login_code":
            user = User.objects.filter(email=email.lower(), is_active=True).first()
            if user is None or user.role != Role.CLIENT:
                template_prefix = "account/email/staff_password"   # the answer on screen is the same
                context = {}
            else:
                context = {**context, "link": new_link(user), "minutes": settings.ACCOUNT_LOGIN_BY_CODE_TIMEOUT // 60}
        with translation.override(_language_of(email)):
            super().send_mail(template_prefix, email, context)

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        return START.get(cast(User, request.user).role, "/")


def step_up_to_write(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """The same for what a page changes; looking at it asks nothing."""
    return cast(
        "Callable[..., HttpResponse]",
        reauthentication_required(allow_get=True, enabled=lambda request: settings.STEP_UP_REQUIRED)(view),
    )


def step_up(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Ask who is there once more when the last proof is more than five minutes old (OWASP ASVS 5.0: v5.0.0-7.5.3).

    The sign-in library asks for the password or the second factor and then goes on where it stopped. Where nobody signs in
    with one (the demo) it does not ask.
    """
    return cast(
        "Callable[..., HttpResponse]",
        reauthentication_required(enabled=lambda request: settings.STEP_UP_REQUIRED)(view),
    )
