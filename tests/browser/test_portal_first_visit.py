"""What a first visit costs on the wire, as Chromium's own protocol counts it, the service worker's fetches included."""

from __future__ import annotations

import os
from collections import Counter
from uuid import UUID

import pytest
from django.core.management import call_command
from django.db import connections
from django.test import override_settings
from django.test.testcases import LiveServerThread

from programs.library.actions.load_library import load_library
from programs.library.models import Level
from programs.library.rules.dose import dose_from_json
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.rules.plan import ItemPlan, Plan
from tests.browser.test_portal_offline import PHONE, ready, server_clock, settle  # noqa: F401  a fixture
from tests.portal.conftest import PHASES, STARTS

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MOST = 120_000   # bytes, without fonts
ITEMS = 12       # as many exercises as a long program has


@pytest.fixture(scope="module", autouse=True)
def workers_are_heard():
    """The driver tells of a service worker's requests only when asked to before it starts."""
    name = "PW_EXPERIMENTAL_SERVICE_WORKER_NETWORK_EVENTS"
    before = os.environ.get(name)
    os.environ[name] = "1"
    yield
    os.environ.pop(name) if before is None else os.environ.update({name: before})


@pytest.fixture
def server(tmp_path, settings):
    """The application with its files collected and compressed, as a clinic runs it; its address."""
    compressed = {**settings.STORAGES, "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}}
    shared = {conn.alias: conn for conn in connections.all() if conn.vendor == "sqlite" and conn.is_in_memory_db()}
    with override_settings(STORAGES=compressed, STATIC_ROOT=str(tmp_path), WHITENOISE_USE_FINDERS=False):
        call_command("collectstatic", interactive=False, verbosity=0)
        thread = LiveServerThread("localhost", static_handler=lambda application: application, connections_override=shared)
        for conn in shared.values():
            conn.inc_thread_sharing()
        thread.daemon = True
        thread.start()
        thread.is_ready.wait()
        assert thread.error is None
        yield f"http://localhost:{thread.port}"
        thread.terminate()
        for conn in shared.values():
            conn.dec_thread_sharing()


@pytest.fixture
def long_program(cast, now):
    """Twelve exercises of the real library, with their drawings."""
    load_library()
    levels = Level.objects.filter(number=1).select_related("exercise").order_by("exercise__slug")[:ITEMS * 4:4]
    items = tuple(
        ItemPlan(UUID(int=number), level.exercise.slug, 1, dose_from_json(level.dose), side=level.exercise.side)
        for number, level in enumerate(levels, start=1)
    )
    assert len(items) == ITEMS
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=Plan(STARTS, PHASES, items), title="Hip at home", starts=STARTS, now=now
    )


def test_a_first_visit_is_small_and_the_next_is_smaller(chromium, server, long_program, cast, now):
    requests, complaints = [], []
    context = chromium.new_context(base_url=server, **PHONE)
    context.base_url = server
    page = ready(context, cast.ada, now, complaints)
    context.on("requestfinished", lambda request: requests.append(request))
    settle(page)
    first = weigh(requests)
    assert first["worker"] > 0
    assert first["page"] > 0
    assert first.total() <= MOST, first
    requests.clear()
    settle(page)
    again = weigh(requests)
    assert 0 < again.total() <= first.total() / 2, again   # the page alone: its files are kept
    context.close()
    assert complaints == []


def weigh(requests) -> Counter[str]:
    """Bytes that came over the wire, heads and bodies, asked for by the page and by its worker; no fonts."""
    found: Counter[str] = Counter()
    for request in requests:
        answer = request.response()
        if request.resource_type == "font" or answer is None or answer.from_service_worker:
            continue
        sizes = request.sizes()
        found["worker" if request.service_worker else "page"] += sizes["responseBodySize"] + sizes["responseHeadersSize"]
    return found
