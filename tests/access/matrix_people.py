"""Who may do what with people."""

from __future__ import annotations

from datetime import UTC, datetime

from clinic.people.actions.ask_correction import ask_correction
from tests.access.roles import Row


def ada(cast):
    return {"public_id": cast.ada.public_id}


def registering(cast):
    return {"site": str(cast.site.pk), "given_name": "Cleo", "language": "en"}


def opening(cast):
    return {"lead": str(cast.mina.public_id), "region": "hip", "side": "left", "complaint": "Stiff hip"}


def righting(cast):
    return {
        "given_name": "Ada", "family_name": "Quill", "birth_date": "1984-05-18", "email": cast.ada.email,
        "phone": "07700 900199", "language": "es", "zone": "Europe/London", "why": "client_asked",
    }


def asked(cast):
    """Ada says that something is wrong."""
    held = ask_correction(by=cast.ada.user, words="I was born a day later", now=datetime(2026, 3, 2, 9, 0, tzinfo=UTC))
    return {"public_id": held.public_id}


def answering(cast):
    return {"outcome": "declined", "reason": "Your passport says so"}


# fmt: off
#                                              anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "people:start",                 (302, 302, 302, 302, 302, 302, 302, 302)),
    Row("POST", "people:tour",                 (302, 404, 404, 302, 302, 302, 302, 302), body=lambda cast: {"stop": "2"}),
    Row("GET", "people:clients",               (302, 404, 404, 200, 200, 200, 200, 302)),
    Row("GET", "people:new_client",            (302, 404, 404, 200, 200, 200, 404, 302)),
    Row("POST", "people:new_client",           (302, 404, 404, 302, 302, 302, 404, 302), body=registering),
    Row("GET", "people:client",                (302, 404, 404, 200, 200, 404, 200, 302), make=ada),
    Row("GET", "people:details",               (302, 404, 404, 200, 200, 404, 200, 302), make=ada),
    Row("POST", "people:details",              (302, 404, 404, 302, 302, 404, 302, 302), make=ada, body=righting),
    Row("GET", "people:corrections",           (302, 404, 404, 200, 200, 200, 200, 302)),
    Row("GET", "people:correction",            (302, 404, 404, 200, 200, 404, 200, 302), make=asked),
    Row("POST", "people:correction",           (302, 404, 404, 302, 302, 404, 302, 302), make=asked, body=answering),
    Row("POST", "people:consent",              (302, 404, 404, 302, 302, 404, 404, 302), make=ada,
        body=lambda cast: {"channel": "email", "granted": "0"}),
    Row("POST", "people:conditions",           (302, 404, 404, 404, 302, 404, 404, 302), make=ada,
        body=lambda cast: {"conditions": []}),
    Row("GET", "people:new_episode",           (302, 404, 404, 200, 200, 404, 404, 302), make=ada),
    Row("POST", "people:new_episode",          (302, 404, 404, 302, 302, 404, 404, 302), make=ada, body=opening),
    # the link itself is the proof; a wrong one signs nobody in, whoever opens it
    Row("GET", "people:link",                  (200, 200, 200, 200, 200, 200, 200, 200), make=lambda cast: {"token": "x"}),
    Row("POST", "people:link",                 (410, 410, 410, 410, 410, 410, 410, 410), make=lambda cast: {"token": "x"}),
    # outside the demo the chooser does not exist
    Row("GET", "people:demo",                  (404, 404, 404, 404, 404, 404, 404, 404)),
    Row("POST", "people:demo",                 (404, 404, 404, 404, 404, 404, 404, 404)),
    Row("GET", "api:clients",                  (401, 404, 404, 200, 200, 200, 200, 401)),
    Row("POST", "api:clients",                 (401, 404, 404, 201, 201, 201, 404, 401),
        body=lambda cast: {"site": cast.site.name, "given_name": "Cleo"}),
    Row("GET", "api:client",                   (401, 404, 404, 200, 200, 404, 200, 401), make=ada),
    Row("GET", "api:episodes",                 (401, 404, 404, 200, 200, 404, 200, 401), make=ada),
    Row("POST", "api:episodes",                (401, 404, 404, 201, 201, 404, 404, 401), make=ada, body=opening),
    # the description of the API holds nobody's data
    Row("GET", "api:openapi",                  (200, 200, 200, 200, 200, 200, 200, 200)),
]
# fmt: on
