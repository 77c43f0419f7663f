"""The sweep catches what it is for: each kind of leak is planted, and the very functions that hold every row must name it."""

from __future__ import annotations

import sys
from types import ModuleType

import pytest
from django.http import HttpResponse
from django.urls import clear_url_caches, get_resolver, include, path, set_urlconf
from rest_framework import serializers
from rest_framework.response import Response

import clinic.project.urls as own
from clinic.booking import api as booking_api
from clinic.booking import feeds
from clinic.people import serializers as people
from clinic.people.access import page
from clinic.people.apibase import RoleView
from clinic.people.models import Client
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role
from dashboards.pages import urls as dashboard_urls
from tests.access import sweep
from tests.access.canaries import SECONDS, WORDS
from tests.access.roles import Row
from tests.access.test_matrix import ROWS

COMPLAINT = WORDS["complaint"]
CLOSED = (302, 404, 404, 404, 200, 404, 200, 302)


def rows_of(route: str, method: str = "GET") -> Row:
    """The table's own row of a route."""
    return next(row for row in ROWS if (row.route, row.method) == (route, method))


@pytest.fixture
def with_routes(settings):
    """with_routes(route, …): the clinic's own routes and these before them."""

    def laid(*planted):
        module = ModuleType("tests.planted_urls")
        module.urlpatterns = [*planted, *own.urlpatterns]
        sys.modules[module.__name__] = module
        settings.ROOT_URLCONF = module.__name__
        clear_url_caches()
        set_urlconf(None)

    yield laid
    sys.modules.pop("tests.planted_urls", None)
    clear_url_caches()


def test_nothing_is_named_where_nothing_is_planted(cast):
    for row in (rows_of("api:client"), rows_of("api:episodes"), rows_of("booking:feed"), rows_of("dashboards:adherence")):
        assert (sweep.wrong_answers(row, cast), sweep.leaks(row, cast)) == ([], [])


@pytest.mark.parametrize(
    ("serializer", "field", "source", "route", "named"),
    [
        (people.EpisodeOut, "complaint", "complaint", "api:episodes", f"desk sees {COMPLAINT}"),
        (people.EpisodeOut, "goals", "goals", "api:episodes", "desk sees the field goals"),
        (people.EpisodeOut, "why", "complaint", "api:episodes", f"desk sees {COMPLAINT}"),   # whatever it is called
        (people.ClientOut, "pain_last", "registered", "api:client", "desk sees the field pain_last"),
    ],
)
def test_a_clinical_field_in_a_serializer_of_the_desk(cast, monkeypatch, serializer, field, source, route, named):
    made = serializers.CharField() if source == field else serializers.CharField(source=source)
    monkeypatch.setitem(serializer._declared_fields, field, made)
    assert named in sweep.leaks(rows_of(route), cast)


def test_a_page_without_permission(cast, with_routes):
    def naked(request, public_id):
        client = Client.objects.get(public_id=public_id)
        return HttpResponse(client.episodes.first().complaint if client.episodes.exists() else "")

    with_routes(path("leak/<uuid:public_id>/", naked, name="leak"))
    assert sweep.unmatched(get_resolver(), ROWS) == ["GET leak has no row"]
    row = Row("GET", "leak", CLOSED, make=lambda cast: {"public_id": cast.ada.public_id})
    assert {f"{role} gets 200, not {status}" for role, status in zip(sweep.ROLES, CLOSED, strict=True) if status != 200} == (
        set(sweep.wrong_answers(row, cast))
    )
    assert {f"{role} sees {COMPLAINT}" for role in sweep.BLIND} == set(sweep.leaks(row, cast))


def test_an_api_route_without_permission(cast, with_routes):
    class Naked(RoleView):
        permission_classes = []

        def get(self, request, public_id):
            return Response({"pain_last": 9})

    with_routes(path("api/v1/leak/<uuid:public_id>", Naked.as_view(), name="leak"))
    # roles are what opens a method; a view that names none has no method that is open, so it shows as its class says
    Naked.roles = {"GET": (Role.CLINICIAN,)}
    assert sweep.unmatched(get_resolver(), ROWS) == ["GET leak has no row"]
    row = Row("GET", "leak", (401, *CLOSED[1:7], 401), make=lambda cast: {"public_id": cast.ada.public_id})
    assert "desk gets 200, not 404" in sweep.wrong_answers(row, cast)
    assert sweep.leaks(row, cast) == ["desk sees the field pain_last"]


def test_a_guarded_route_without_a_row_and_one_without_a_name(with_routes):
    @page(Role.LEAD, methods=("GET", "POST"))
    def fine(request):
        return HttpResponse()

    with_routes(path("fine/", fine, name="fine"), path("other/", fine), path("deep/", include([path("x/", fine, name="x")])))
    assert sweep.unmatched(get_resolver(), ROWS) == [
        "GET fine has no row", "GET unnamed:other/ has no row", "GET x has no row", "POST fine has no row",
        "POST x has no row",
    ]


def test_a_row_whose_route_is_gone(with_routes):
    assert sweep.unmatched(get_resolver(), [*ROWS, Row("GET", "gone", CLOSED)]) == ["GET gone has no route"]


def test_a_calendar_that_says_why_somebody_comes(cast, monkeypatch):
    monkeypatch.setattr(
        feeds, "title_for", lambda language: Client.objects.get(pk=cast.ada.pk).episodes.first().complaint
    )
    row = next(row for row in ROWS if row.route == "booking:feed")
    with_visit = Row(row.method, row.route, row.expect, make=lambda cast: booked_feed(cast, row))
    assert f"anonymous sees {COMPLAINT}" in sweep.leaks(with_visit, cast)


def booked_feed(cast, row):
    rows_of("booking:visit").make(cast)
    return row.make(cast)


def opened(view, *roles):
    """The same view, open to these roles."""
    return page(*roles)(view.__wrapped__)


@pytest.mark.parametrize("name", ["adherence", "caseload", "caseload_csv", "hours_csv"])
def test_a_chart_or_an_export_that_the_desk_may_open(cast, with_routes, name):
    route = next(each for each in dashboard_urls.urlpatterns if each.name == name)
    view = opened(route.callback, Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD)
    changed = [path(str(route.pattern), view, name=name), *dashboard_urls.urlpatterns]
    with_routes(path("", include((changed, "dashboards"), namespace="dashboards")))
    row = rows_of(f"dashboards:{name}")
    assert sweep.wrong_answers(row, cast) == ["desk gets 200, not 404"]


def test_the_figures_of_a_chart_on_a_page_of_the_desk(cast, monkeypatch):
    """A page that the desk may open, with a figure's data in it as the charts' pages have it."""
    from django.utils.html import json_script

    from clinic.people import views

    drawn = views.render

    def with_figure(request, template, context=None, **options):
        answer = drawn(request, template, context, **options)
        answer.content += str(json_script({"data": [{"y": [SECONDS]}]}, "figure-done")).encode()
        return answer

    monkeypatch.setattr(views, "render", with_figure)
    assert f"desk sees {SECONDS}" in sweep.leaks(rows_of("people:client"), cast)


@pytest.mark.parametrize(("route", "method"), [("people:clients", "GET"), ("api:clients", "GET"), ("booking:new", "POST")])
def test_a_search_that_answers_with_more_than_a_name(cast, monkeypatch, route, method):
    def told(client):
        episode = client.episodes.first()
        return f"{client.given_name} {client.family_name} {episode.complaint if episode else ''}"

    monkeypatch.setattr(Client, "name", property(told))
    monkeypatch.setitem(people.ClientOut._declared_fields, "family_name", serializers.CharField(source="name"))
    assert f"desk sees {COMPLAINT}" in sweep.leaks(rows_of(route, method), cast)


def test_the_words_of_a_refusal(cast, monkeypatch):
    def refused(**given):
        raise Refusal("busy", f"{given['client'].name} comes about {given['client'].episodes.first().complaint}.")

    monkeypatch.setattr(booking_api, "book_visit", refused)
    assert f"desk sees {COMPLAINT}" in sweep.leaks(rows_of("api:appointments", "POST"), cast)


def test_who_somebody_is_told_to_a_stranger(cast, monkeypatch):
    monkeypatch.setattr(feeds, "title_for", lambda language: Client.objects.get(pk=cast.ada.pk).name)
    row = next(row for row in ROWS if row.route == "booking:feed")
    with_visit = Row(row.method, row.route, row.expect, make=lambda cast: booked_feed(cast, row))
    assert "anonymous sees Quill" in sweep.leaks(with_visit, cast)
