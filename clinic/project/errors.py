"""Error pages: plain sentences, no data of anyone, problem+json under /api/.

A client reads them in the language the browser asks for: what broke may be the database that knows the client's own.
"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import translation
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as noop

from clinic.people.arriving import CLIENT_DOORS
from clinic.people.rules.language import FIRST, first_spoken

_SENTENCES = {   # code, sentence, advice
    400: ("bad_request", noop("That request could not be read."),
          noop("Go back, check what you typed, and try again.")),
    403: ("forbidden", noop("That was refused."),
          noop("The page may have been open too long. Go back, reload it and try again.")),
    404: ("not_found", noop("There is nothing here that you can see."),
          noop("The address may be wrong, or it is not for your role.")),
    500: ("server_error", noop("Something broke on our side."),
          noop("Nothing was half-saved. Try again; if it stays, tell the clinic.")),
}


def _answer(request: HttpRequest, status: int) -> HttpResponse:
    code, sentence, advice = _SENTENCES[status]
    if request.path.startswith("/api/"):
        body = {"type": "about:blank", "title": code, "status": status, "detail": sentence}
        return JsonResponse(body, status=status, content_type="application/problem+json")
    client = request.path.startswith(("/portal/", *CLIENT_DOORS))
    with translation.override(first_spoken(request.headers.get("Accept-Language", "")) if client else FIRST):
        said = {"sentence": gettext(sentence), "advice": gettext(advice)}
        return render(request, "error.html", said, status=status)


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
    """500: something broke; nothing of what was typed is shown."""
    return _answer(request, 500)
