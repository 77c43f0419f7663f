"""Pages that are kept up to date while they are open: a page names its state, and says when it is still the same."""

from __future__ import annotations

from hashlib import blake2b

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified


def _tag(parts: tuple[object, ...]) -> str:
    digest = blake2b(digest_size=12)
    for part in parts:
        digest.update(str(part).encode())
        digest.update(b"\0")
    return f'"{digest.hexdigest()}"'


def unchanged(request: HttpRequest, *parts: object) -> HttpResponse | None:
    """304 when the reader already has what these parts say (static dashboards/live.js asks); None otherwise."""
    held = request.headers.get("If-None-Match")
    if held is None or held != _tag(parts):
        return None
    answer = HttpResponseNotModified()
    answer["ETag"] = held
    return answer


def marked(answer: HttpResponse, *parts: object) -> HttpResponse:
    """The page with the name of its state; the state is that of the parts, not of the page's one-time form keys."""
    answer["ETag"] = _tag(parts)
    return answer
