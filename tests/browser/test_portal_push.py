"""What a phone shows when the clinic's notification arrives, in a real browser: Chromium's own protocol hands it over."""

from __future__ import annotations

import json

import pytest

from tests.browser.test_portal_offline import phone, server_clock  # noqa: F401  fixtures
from tests.reminders.test_push import PEM

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SHOWN = """async () => (await (await navigator.serviceWorker.ready).getNotifications()).map((each) => [each.title, each.tag,
    each.data.path])"""


@pytest.mark.parametrize(
    ("told", "shown"),
    [
        ({"title": "A session today", "url": "/portal/", "tag": "a"}, ["A session today", "a", "/portal/"]),
        ({"title": "Your visit", "url": "{here}/portal/visits/?x=1", "tag": "b"}, ["Your visit", "b", "/portal/visits/"]),
        ({"title": "Your visit", "url": "https://elsewhere.example/portal/", "tag": "c"}, ["Your visit", "c", "/portal/"]),
        ({"title": "Your visit", "url": "/people/", "tag": "d"}, ["Your visit", "d", "/portal/"]),
        ("no json", ["Intervale", "intervale", "/portal/"]),
    ],
)
def test_it_says_the_sentence_and_opens_pages_of_the_portal_only(phone, live_server, cast, settings, told, shown):   # noqa: F811
    settings.PUSH_KEY = PEM
    page = phone(cast.ada, permissions=["notifications"])
    page.goto("/portal/messages/")
    page.wait_for_function("async () => Boolean((await navigator.serviceWorker.ready).active)")
    line = page.context.new_cdp_session(page)
    registered = []
    line.on("ServiceWorker.workerRegistrationUpdated", lambda event: registered.extend(event["registrations"]))
    line.send("ServiceWorker.enable")
    page.wait_for_timeout(500)
    data = told if isinstance(told, str) else json.dumps(told).replace("{here}", live_server.url)
    line.send(
        "ServiceWorker.deliverPushMessage",
        {"origin": live_server.url, "registrationId": registered[0]["registrationId"], "data": data},
    )
    for _ in range(50):   # five seconds; the worker shows it in its own time
        if found := page.evaluate(SHOWN):
            break
        page.wait_for_timeout(100)
    assert found == [shown]
