"""A page of the portal: for clients only, in the client's own language."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.views.decorators.gzip import gzip_page

from clinic.people.access import View, me, page
from clinic.people.queries import own_client
from clinic.people.rules.language import spoken_language
from clinic.people.vocab import Role


def client_page(methods: tuple[str, ...] = ("GET",)) -> Callable[[View], View]:
    """Open a view to clients, each in the language they speak; English where we do not have theirs.

    Sent compressed, for a slow line; the framework pads each answer at random, so that its length tells nothing.
    """

    def wrap(view: View) -> View:
        def spoken(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
            with translation.override(spoken_language(own_client(me(request)).language)):
                return view(request, *args, **kwargs)

        spoken.__name__, spoken.__doc__ = view.__name__, view.__doc__
        return page(Role.CLIENT, methods=methods)(gzip_page(spoken))

    return wrap
