"""Tokens at the API: scopes, whose they are, how they end; a clinic's own portal only for clients who agreed."""

import json
import uuid
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.test import Client as Browser
from django.urls import get_resolver
from django.utils import timezone

from clinic.people.models import AuditEvent, Client
from clinic.people.permissions import ANY_SCOPE
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from programs.portal.actions.answer_own_portal import answer_own_portal
from programs.portal.actions.end_token import end_token
from programs.portal.actions.make_token import make_token
from programs.portal.models import AccessToken
from programs.portal.vocab import Scope
from programs.prescribing.queries import newest_revision

ME = "/api/v1/me"
# every route of a client's API and the scope a token needs for it; "" closes it to tokens
SCOPES = {
    ("GET", "me"): ANY_SCOPE,
    ("GET", "my-today"): "plan", ("GET", "my-plan"): "plan", ("GET", "my-weeks"): "plan",
    ("POST", "my-sessions"): "log", ("POST", "my-mornings"): "log", ("POST", "my-alerts"): "log",
    ("GET", "my-visits"): "visits", ("GET", "move-my-visit"): "visits", ("GET", "my-visit-file"): "visits",
    ("POST", "cancel-my-visit"): "visits:change", ("POST", "confirm-my-visit"): "visits:change",
    ("POST", "move-my-visit"): "visits:change",
    ("GET", "my-reminders"): "reminders", ("PUT", "my-reminders"): "reminders",
    ("GET", "my-measures"): "measures",
    ("GET", "my-notes"): "notes", ("POST", "my-notes"): "notes", ("POST", "read-my-notes"): "notes",
    ("GET", "my-offers"): "visits", ("GET", "my-openings"): "visits", ("POST", "my-visits"): "visits:change",
    ("POST", "accept-my-offer"): "visits:change", ("POST", "decline-my-offer"): "visits:change",
    ("GET", "my-proposed-moves"): "visits", ("POST", "accept-my-proposed-move"): "visits:change",
    ("POST", "decline-my-proposed-move"): "visits:change", ("GET", "my-handout"): "plan",
    ("GET", "my-push-devices"): "reminders", ("POST", "my-push-devices"): "reminders",
    ("POST", "remove-my-push-device"): "reminders",
    ("GET", "my-details"): "", ("GET", "my-corrections"): "", ("POST", "my-corrections"): "",
    ("GET", "my-devices"): "", ("POST", "end-my-device"): "",
}


def with_token(secret, method, path, body=None, **headers):
    return Browser().generic(
        method, path, json.dumps(body or {}), content_type="application/json",
        headers={"Authorization": f"Bearer {secret}", **headers},
    )


@pytest.fixture
def made(cast, now):
    """made(*scopes, days=30) -> (token, secret) of Ada's."""
    return lambda *scopes, days=30: make_token(by=cast.ada.user, label="Watch", scopes=set(scopes), days=days, now=now)


@pytest.fixture
def front(cast, now):
    """A token of the clinic's own portal, with its secret."""
    return make_token(by=cast.lead.user, label="Front", scopes={"plan", "log"}, days=90, now=now, site=cast.site)


def _client_routes():
    resolver = get_resolver().namespace_dict["api"][1]
    for pattern in _patterns(resolver):
        view = getattr(pattern.callback, "cls", None)
        for method, roles in getattr(view, "roles", {}).items():
            if Role.CLIENT in roles:
                yield (method, pattern.name), view.scopes.get(method, "")


def _patterns(resolver):
    for one in resolver.url_patterns:
        yield from _patterns(one) if hasattr(one, "url_patterns") else [one]


def test_every_route_of_a_client_has_its_scope_here():
    assert dict(_client_routes()) == SCOPES


@pytest.mark.parametrize(
    ("method", "path", "scope"),
    [
        ("GET", "today", "plan"), ("GET", "weeks", "plan"), ("POST", "sessions", "log"), ("GET", "visits", "visits"),
        ("POST", f"visits/{uuid.UUID(int=1)}/cancel", "visits:change"), ("PUT", "reminders", "reminders"),
        ("GET", "measures", "measures"),
    ],
)
def test_a_token_without_the_scope_is_told_which_it_lacks_and_one_with_it_gets_on(made, method, path, scope):
    _, poor = made(*(set(Scope) - {scope}))
    refused = with_token(poor, method, f"{ME}/{path}")
    assert (refused.status_code, refused.json()["title"]) == (403, "insufficient_scope")
    assert refused["WWW-Authenticate"] == f'Bearer error="insufficient_scope", scope="{scope}"'   # RFC 6750, 3.1
    _, rich = made(scope)
    assert with_token(rich, method, f"{ME}/{path}").status_code in {200, 400, 404}   # looked at, by its own rules


@pytest.mark.parametrize("path", ["devices", "../clients", "../appointments"])
def test_no_token_reaches_devices_or_the_staff_s_routes(made, path):
    _, secret = made(*Scope)
    assert with_token(secret, "GET", f"{ME}/{path}".replace("me/../", "")).status_code in {403, 404}


def test_only_the_hash_is_kept_and_the_last_use_is_noted_to_the_minute(made, cast, now, clock):
    token, secret = made("plan")
    assert secret not in json.dumps(list(AccessToken.objects.values()), default=str)
    assert with_token(secret, "GET", f"{ME}/today").status_code == 200
    clock.move_to(now + timedelta(seconds=59))
    with_token(secret, "GET", f"{ME}/today")
    token.refresh_from_db()
    assert token.last_used == now
    clock.move_to(now + timedelta(seconds=60))
    with_token(secret, "GET", f"{ME}/today")
    token.refresh_from_db()
    assert token.last_used == now + timedelta(seconds=60)


def test_what_it_writes_is_written_down_as_its_doing(made, cast, program):
    token, secret = made("log")
    session = {
        "log_id": str(uuid.uuid4()), "revision": str(newest_revision(program).public_id), "day": "2026-03-02", "items": [],
    }
    answer = with_token(secret, "POST", f"{ME}/sessions", {"sessions": [session]})
    assert answer.json()["results"][0]["result"] == "stored"
    assert answer["Cache-Control"] == "no-store"
    assert AuditEvent.objects.latest("pk").detail["token"] == str(token.public_id)
    end_token(by=cast.ada.user, token=token, now=timezone.now())
    assert "token" not in AuditEvent.objects.latest("pk").detail


@pytest.mark.parametrize("how", ["ended", "too old", "unknown", "deactivated", "archived"])
def test_one_that_does_not_hold_is_refused_alike(made, cast, now, clock, how):
    token, secret = made("plan")
    if how == "ended":
        end_token(by=cast.ada.user, token=token, now=now)
    elif how == "too old":
        clock.move_to(token.expires)
    elif how == "unknown":
        secret += "x"
    elif how == "deactivated":
        cast.ada.user.is_active = False
        cast.ada.user.save()
    else:
        Client.objects.filter(pk=cast.ada.pk).update(archived=now)
    answer = with_token(secret, "GET", f"{ME}/today")
    assert answer.status_code in ({401} if how in {"ended", "too old", "unknown"} else {403})
    if answer.status_code == 401:
        assert answer["WWW-Authenticate"] == 'Bearer error="invalid_token"'


def test_a_write_with_a_token_needs_no_word_of_a_form(made, program):
    _, secret = made("log")
    strict = Browser(enforce_csrf_checks=True)
    answer = strict.post(
        f"{ME}/alerts", json.dumps({"answer_id": str(uuid.uuid4()), "flag": "calf_swelling"}),
        content_type="application/json", headers={"Authorization": f"Bearer {secret}"},
    )
    assert answer.status_code == 200


def test_one_client_s_token_does_not_act_for_another(made, cast):
    _, secret = made("plan")
    assert with_token(secret, "GET", ME, **{"Intervale-Client": str(cast.ada.public_id)}).json()["first_name"] == "Ada"
    for other in (cast.bo.public_id, uuid.uuid4()):
        answer = with_token(secret, "GET", ME, **{"Intervale-Client": str(other)})
        assert (answer.status_code, answer.json()["title"]) == (403, "no_agreement")


def test_the_clinic_s_portal_acts_only_for_who_agreed_and_while_they_do(front, cast, now):
    token, secret = front
    named = {"Intervale-Client": str(cast.ada.public_id)}
    absent = with_token(secret, "GET", ME, **{"Intervale-Client": str(uuid.uuid4())})
    before = with_token(secret, "GET", ME, **named)
    assert before.status_code == absent.status_code == 403
    assert before.content == absent.content
    answer_own_portal(by=cast.ada.user, token=token, agreed=True, now=now)
    assert with_token(secret, "GET", ME, **named).json()["id"] == str(cast.ada.public_id)
    assert with_token(secret, "GET", ME).status_code == 403   # it has to say for whom
    assert with_token(secret, "GET", ME, **{"Intervale-Client": str(cast.bo.public_id)}).status_code == 403
    answer_own_portal(by=cast.ada.user, token=token, agreed=False, now=now)
    assert with_token(secret, "GET", ME, **named).status_code == 403


def test_a_number_that_is_none_is_said(front):
    assert with_token(front[1], "GET", ME, **{"Intervale-Client": "Ada"}).status_code == 400


def test_too_many_requests_are_told_when_to_go_on(made, monkeypatch):
    monkeypatch.setattr("clinic.people.permissions.TokenThrottle.rate", "2/min")
    cache.clear()
    _, secret = made("plan")
    answers = [with_token(secret, "GET", ME) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert 0 < int(answers[-1]["Retry-After"]) <= 60
    _, another = made("plan")
    assert with_token(another, "GET", ME).status_code == 200


def test_ada_makes_one_sees_its_secret_once_and_ends_it(cast, browse):
    ada = browse(cast.ada.user)
    answer = ada.post("/portal/access/", {"label": "My watch", "scopes": ["log"], "days": "90"})
    secret = answer.context["secret"]
    assert secret in answer.content.decode()
    again = ada.get("/portal/access/").content.decode()
    assert "My watch" in again
    assert secret not in again
    assert with_token(secret, "GET", ME).status_code == 200
    ada.post(f"/portal/access/{AccessToken.objects.get().public_id}/end/")
    assert with_token(secret, "GET", ME).status_code == 401
    assert "My watch" not in ada.get("/portal/access/").content.decode()


@pytest.mark.parametrize(
    ("field", "value"), [("label", ""), ("label", "x" * 61), ("scopes", []), ("scopes", ["all"]), ("days", "9999")]
)
def test_what_cannot_be_is_said_and_nothing_is_made(cast, browse, field, value):
    wanted = {"label": "My watch", "scopes": ["log"], "days": "90", field: value}
    answer = browse(cast.ada.user).post("/portal/access/", wanted)
    assert answer.status_code == 400
    assert field in answer.context["form"].errors
    assert not AccessToken.objects.exists()


def test_the_lead_makes_one_and_ada_agrees_on_her_own_page(cast, browse):
    lead, ada = browse(cast.lead.user), browse(cast.ada.user)
    wanted = {"label": "Front", "scopes": ["plan"], "days": "90", "site": str(cast.site.pk)}
    secret = lead.post("/portal/clinic/access/", wanted).context["secret"]
    token = AccessToken.objects.get()
    page = ada.get("/portal/access/").content.decode()
    assert "Harbour Lane asks" in page
    assert "Read what is asked of me" in page
    ada.post(f"/portal/access/{token.public_id}/answer/", {"agreed": "1"})
    named = {"Intervale-Client": str(cast.ada.public_id)}
    assert with_token(secret, "GET", f"{ME}/today", **named).status_code == 200
    assert next(iter(lead.get("/portal/clinic/access/").context["page"])).agreed == 1
    lead.post(f"/portal/clinic/access/{token.public_id}/end/")
    assert with_token(secret, "GET", f"{ME}/today", **named).status_code == 401


def test_a_lead_of_elsewhere_makes_none_here(cast, now):
    cast.lead.sites.clear()
    with pytest.raises(NotThere):
        make_token(by=cast.lead.user, label="Front", scopes={"plan"}, days=9, now=now, site=cast.site)


def test_an_eleventh_is_refused(made):
    for _ in range(10):
        made("plan")
    with pytest.raises(Refusal, match="ten already"):
        made("plan")
