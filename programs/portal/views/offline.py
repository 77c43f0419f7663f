"""What a phone keeps for when there is no signal: the worker's script, the pocket page, the untold stop screen."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from typing import Any

from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language
from django.views.decorators.http import require_safe

from clinic.people.access import me
from clinic.people.queries import own_client
from programs.portal.forms import REASONS, ItemForm, SessionForm
from programs.portal.queries.ahead import Ahead, ahead_of
from programs.portal.queries.own import acceptable_pain
from programs.portal.queries.today import Card
from programs.portal.views.client_page import client_page

# what every page of the portal is made of; the order does not matter
SHELL = (
    "intervale/app.css", "intervale/mark.svg", "library/library.css", "library/moving.js", "portal/portal.css",
    "portal/icon.svg", "portal/queue.js", "portal/kept.js", "portal/session.js", "portal/log.js", "portal/pocket.js",
    "portal/worker.js",
)


@lru_cache(maxsize=1)
def _version() -> str:
    """A name for this set of files: a changed file makes a new one, and with it a new worker."""
    digest = hashlib.sha256()
    for name in SHELL:
        found = finders.find(name)
        path = found if isinstance(found, str) else staticfiles_storage.path(name)
        with open(path, "rb") as file:
            digest.update(file.read())
    return digest.hexdigest()[:16]


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker's first lines; it holds nothing of anybody, so that it can be renewed while signed out."""
    names = {
        "version": _version(), "shell": [static(name) for name in SHELL if name != "portal/worker.js"],
        "scope": reverse("portal:today"), "pocket": reverse("portal:pocket"), "help": reverse("portal:help"),
        "untold": reverse("portal:untold"), "sessions": reverse("api:my-sessions"), "mornings": reverse("api:my-mornings"),
        "alerts": reverse("api:my-alerts"), "icon": static("portal/icon.svg"),
    }
    parts = json.dumps([static("portal/queue.js"), static("portal/worker.js")])
    script = f"self.intervale = {json.dumps(names)};\nimportScripts(...{parts});\n"
    answer = HttpResponse(script, content_type="text/javascript; charset=utf-8")
    answer["Service-Worker-Allowed"] = reverse("portal:today")
    answer["Cache-Control"] = "no-cache"
    return answer


worker.open_methods = {"GET"}  # type: ignore[attr-defined]


@client_page()
def pocket(request: HttpRequest) -> HttpResponse:
    """The days ahead on one page, for a phone to keep: exercises, drawings, numbers, opaque ids; no name."""
    ahead = ahead_of(me(request), timezone.now())
    tag = _tag(ahead)
    if request.headers.get("If-None-Match", "").removeprefix("W/") == tag:   # compressing makes a tag weak
        return HttpResponseNotModified(headers={"ETag": tag})
    programs = [
        (held.program, held.days, [_form(ahead, held.program, *pair) for pair in held.cards]) for held in ahead.programs
    ]
    answer = render(
        request, "portal/pocket.html",
        {
            "client": ahead.client, "ahead": ahead, "programs": programs, "reasons": REASONS[1:],
            "acceptable": acceptable_pain(),
        },
    )
    answer["ETag"] = tag
    return answer


def _form(
    ahead: Ahead, program: Any, revision: Any, cards: list[Card]
) -> tuple[Any, SessionForm, list[tuple[Card, ItemForm]]]:
    form = SessionForm(today=ahead.day, first=program.starts, initial={"revision": revision.public_id})
    return revision, form, [(card, ItemForm(card=card)) for card in cards]


def _tag(ahead: Ahead) -> str:
    """The same as long as the page says the same."""
    seen = [
        _version(), str(get_language()), str(ahead.client.public_id), str(ahead.day), str(ahead.stopped),
        ahead.client.site.phone, ahead.client.site.emergency_number, str(acceptable_pain()),
        *(
            f"{held.program.public_id} {day.day} {day.stand} {day.revision.public_id if day.revision else ''}"
            for held in ahead.programs for day in held.days
        ),
        # the library's words may be mended while the revision stays the same
        *(
            f"{card.words} {card.level_words} {[other.words for other in card.beside]}"
            for held in ahead.programs for _, cards in held.cards for card in cards
        ),
    ]
    return f'"{hashlib.sha256(" ".join(seen).encode()).hexdigest()[:32]}"'


@client_page()
def untold(request: HttpRequest) -> HttpResponse:
    """The stop screen for when the answer could not be sent: it does not say that anybody knows."""
    return render(request, "portal/stop.html", {"client": own_client(me(request)), "told": False, "kept": True})
