"""How soon today's page can be used on a second visit, on a slow line and a slow phone.

Chromium's own protocol slows it down: 562.5 ms of latency and 180 kB/s (the preset its developer tools call slow 4G), for the
page and for its service worker, and a processor four times slower. Yardstick: the first visit of the same run. Wall time: run
it on a quiet machine.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from statistics import median

from tests.benchmarks.common import Measured

SETTING = "demo"
SLOW = {"offline": False, "latency": 562.5, "downloadThroughput": 180 * 1024, "uploadThroughput": 84 * 1024}
USABLE = "performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"   # drawn, and its buttons work
VISITS = 5


def measure() -> list[Measured]:
    """The middle one of five repeat visits, in seconds."""
    from django.test import Client as Browser

    from programs.prescribing.models import Program

    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    program = Program.objects.filter(status="active", client__user__isnull=False).order_by("pk").first()
    if program is None:
        raise SystemExit("The demo clinic has no active program.")
    browser = Browser()
    browser.force_login(program.client.user)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "manage.py", "runserver", "--noreload", str(port)], stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        _wait_for(port)
        first, again = _visits(f"http://localhost:{port}", browser.cookies["session"].value)
    finally:
        server.terminate()
        server.wait()
    return [
        Measured(
            "today's page on a repeat visit, slow 4G and a processor four times slower, until it can be used",
            again, "the first visit under the same conditions", first, most_took=1.0,
        )
    ]


def _wait_for(port: int) -> None:
    for _ in range(300):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise SystemExit("The server did not start.")


def _visits(base: str, session: str) -> tuple[float, float]:
    """Seconds until usable: the first visit, and the median of the repeated ones."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        context = chromium.new_context(base_url=base, viewport={"width": 390, "height": 800})
        context.add_cookies([{"name": "session", "value": session, "url": base}])
        page = context.new_page()
        protocol = context.new_cdp_session(page)
        protocol.send("Network.enable")
        protocol.send("Network.emulateNetworkConditions", SLOW)
        protocol.send("Emulation.setCPUThrottlingRate", {"rate": 4})
        page.goto("/portal/", wait_until="domcontentloaded")
        first = page.evaluate(USABLE) / 1000
        page.wait_for_selector("#kept[data-ready]", state="attached")   # the phone keeps what it needs
        _slow_worker(chromium.new_browser_cdp_session())
        took = []
        for _ in range(VISITS):
            page.goto("about:blank")
            page.goto("/portal/", wait_until="domcontentloaded")
            took.append(page.evaluate(USABLE) / 1000)
        chromium.close()
    return first, median(took)


def _slow_worker(protocol) -> None:
    """What the service worker fetches is as slow as what the page fetches."""
    workers = [one for one in protocol.send("Target.getTargets")["targetInfos"] if one["type"] == "service_worker"]
    if not workers:
        raise SystemExit("The portal's service worker does not run.")
    for worker in workers:
        held = protocol.send("Target.attachToTarget", {"targetId": worker["targetId"], "flatten": False})["sessionId"]
        for number, (method, values) in enumerate([("Network.enable", {}), ("Network.emulateNetworkConditions", SLOW)]):
            message = json.dumps({"id": number + 1, "method": method, "params": values})
            protocol.send("Target.sendMessageToTarget", {"sessionId": held, "message": message})
