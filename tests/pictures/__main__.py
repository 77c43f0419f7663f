"""Takes the README's pictures of the current build: `python -m tests.pictures`.

Sets the demo clinic up in a folder of its own, serves it on a free port, and photographs it in Chromium.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import ARGUMENTS, chromium_path
from tests.pictures.serving import ROOT, answers, free_port

PICTURES = ROOT / "fixtures" / "pictures"
WIDE, PHONE = {"width": 1280, "height": 860}, {"width": 390, "height": 780}


def be(page: Page, role: str) -> None:
    """Become the first person of a role in the demo."""
    page.goto("/demo/")
    group = page.locator("section", has=page.get_by_role("heading", name=role, exact=True))
    group.get_by_role("button").first.click()
    page.wait_for_load_state()
    leave = page.get_by_role("button", name=re.compile("^Leave (the round|it)$"))
    if leave.count():
        leave.click()
        page.wait_for_load_state()


def caseload(page: Page) -> None:
    be(page, "Clinician")


def prescriber(page: Page) -> None:
    be(page, "Clinician")
    page.goto("/clients/")
    page.get_by_role("row").nth(3).get_by_role("link").first.click()
    page.locator("main a[href^='/programs/']").first.click()
    page.get_by_role("link", name="Change", exact=True).click()
    page.wait_for_load_state()


def day_view(page: Page) -> None:
    be(page, "Front desk")
    page.get_by_role("link", name="Day after").click()
    page.wait_for_load_state()


def portal(page: Page) -> None:
    be(page, "Client")


SHOTS = {"caseload": (caseload, WIDE), "prescriber": (prescriber, WIDE), "day": (day_view, WIDE), "portal": (portal, PHONE)}


def served(folder: str, port: int) -> subprocess.Popen[bytes]:
    """The demo, once it answers."""
    environment = {**os.environ, "INTERVALE_DATA": folder, "INTERVALE_DEMO": "1", "INTERVALE_PREPARED": "1"}
    command = [sys.executable, "manage.py", "demo", "--port", str(port)]
    process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    answers(port)
    return process


def main() -> int:
    """Write each picture; 0."""
    port = free_port()
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        process = served(folder, port)
        try:
            browser = playwright.chromium.launch(executable_path=chromium_path(), args=ARGUMENTS)
            for name, (walk, size) in SHOTS.items():
                page = browser.new_page(base_url=f"http://127.0.0.1:{port}", viewport=size)
                walk(page)
                page.wait_for_timeout(800)
                page.screenshot(path=PICTURES / f"{name}.png")
                sys.stdout.write(f"{name}: {page.title()}\n")
                page.close()
            browser.close()
        finally:
            process.terminate()
            process.wait()
    return 0


if __name__ == "__main__":
    sys.exit(main())
