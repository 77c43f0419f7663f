"""Error pages: plain sentences, no data of anyone, problem+json under /api/.

A client reads them in the language the browser asks for: what broke may be the database that knows the client's own.
"""

from __future__ import annotations

import sys
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as noop

from clinic.people.arriving import CLIENT_DOORS
from clinic.people.rules.language import FIRST, first_spoken
from clinic.people.trouble import status_of

_SENTENCES = {   # code, sentence, advice
    400: ("bad_request", noop("That request could not be read."),
          noop("Go back, check what you typed, and try again.")),
    403: ("forbidden", noop("That was refused."),
          noop("The page may have been open too long. Go back, reload it and try again.")),
    404: ("not_found", noop("There is nothing here that you can see."),
          noop("The address may be wrong, or it is not for your role.")),
    500: ("server_error", noop("Something broke on our side."),
          noop("Nothing was half-saved. Try again; if it stays, tell the clinic.")),
    503: ("try_again", noop("The records cannot be reached at this moment."),
          noop("Wait a few seconds and try again. What you sent may have been saved: look before you send it once more.")),
    507: ("no_room", noop("Nothing can be written at this moment: the disk is full or locked."),
          noop("What is stored can be read, and nothing was half-saved. Tell the clinic, then try again.")),
}
RETRY_SECONDS = {503: 2, 507: 60}


def _answer(request: HttpRequest, status: int) -> HttpResponse:
    code, sentence, advice = _SENTENCES[status]
    headers = {"Retry-After": str(RETRY_SECONDS[status])} if status in RETRY_SECONDS else {}
    if request.path.startswith("/api/"):
        body: dict[str, Any] = {"type": "about:blank", "title": code, "status": status, "detail": sentence}
        if status in RETRY_SECONDS:
            body["retry_after"] = RETRY_SECONDS[status]
        return JsonResponse(body, status=status, content_type="application/problem+json", headers=headers)
    client = request.path.startswith(("/portal/", *CLIENT_DOORS))
    language = first_spoken(request.headers.get("Accept-Language", "")) if client else FIRST
    with translation.override(language):
        said = {"sentence": gettext(sentence), "advice": gettext(advice), "page_language": language.split("-")[0]}
        # without the request, that is without asking the database who this is, where the database is what is away
        page = render_to_string("error.html", said, None if status in RETRY_SECONDS else request)
    return HttpResponse(page, status=status, headers=headers)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400: the request could not be read."""
    return _answer(request, 400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403: refused, most often by the check against forged forms."""
    return _answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404: not there, or not for this person."""
    return _answer(request, 404)


def server_error(request: HttpRequest) -> HttpResponse:
    """500: something broke; nothing of what was typed is shown. 503 or 507 where the database says so."""
    return _answer(request, status_of(sys.exception()) or 500)
