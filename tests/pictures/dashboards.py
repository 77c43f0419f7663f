"""Takes pictures of every dashboard in four sizes of practice: `python -m tests.pictures.dashboards FOLDER [SIZE …]`.

0 clients are a clinic that has just been set up, 1 and 60 a demo of that many, 2,000 the big practice of the benchmarks; it
needs a PostgreSQL server (INTERVALE_DATABASE) and is left out, and said so, without one. Each page is taken light and dark at
1280 and 390 pixels and as it prints at 1280; one that is wider than its window is named at the end. The pictures are for
looking at, not for keeping.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import ARGUMENTS, chromium_path
from tests.pictures.serving import ROOT, answers, free_port

SIZES = (0, 1, 60, 2000)
PAGES = {
    "caseload": "/caseload/", "adherence": "/practice/adherence/", "dose": "/practice/dose/", "overdue": "/practice/overdue/",
    "progression": "/practice/progression/", "course": "/practice/course/", "outcomes": "/practice/outcomes/",
    "no-shows": "/practice/no-shows/", "hours": "/practice/hours/",
}
LOOKS = (
    ("light", 1280, "light", "screen"), ("light-390", 390, "light", "screen"), ("dark", 1280, "dark", "screen"),
    ("dark-390", 390, "dark", "screen"), ("print", 1280, "light", "print"),
)


@contextmanager
def practice(size: int) -> Iterator[str]:
    """The address of a server with a practice of that many clients in a place of its own."""
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "INTERVALE_DATA": folder, "INTERVALE_DEMO": "1", "INTERVALE_PREPARED": "1"}
        server = environment.pop("INTERVALE_DATABASE", "")
        environment.pop("INTERVALE_REDIS", None)
        port = free_port()
        if size == SIZES[-1]:
            environment["INTERVALE_DATABASE"] = _database(server)
            _run(environment, "manage.py", "migrate", "--verbosity", "0")
            _run(environment, "-c", GROW.format(size=size))
        words = ["manage.py", "demo", "--port", str(port), "--clients", str(size)]
        process = subprocess.Popen(
            [sys.executable, *words], cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        try:
            answers(port)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.terminate()
            process.wait()
            if size == SIZES[-1]:
                _dropped(server)


GROW = """
import os
os.environ["DJANGO_SETTINGS_MODULE"] = "clinic.project.settings"
import django
django.setup()
from django.utils import timezone
from tests.benchmarks.big_practice import PATTERN, grow, pattern
pattern(now=timezone.now())
grow(have=PATTERN, want={size})
"""


def _run(environment: dict[str, str], *words: str) -> None:
    subprocess.run([sys.executable, *words], cwd=ROOT, env=environment, check=True)


def _dropped(server: str, *then: str) -> None:
    import psycopg

    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute('DROP DATABASE IF EXISTS "intervale_pictures" WITH (FORCE)')
        for statement in then:
            connection.execute(statement)


def _database(server: str) -> str:
    """An empty database of that server; the one of an unfinished run is gone."""
    _dropped(server, 'CREATE DATABASE "intervale_pictures"')
    return urlsplit(server)._replace(path="/intervale_pictures").geturl()


def be(page: Page, role: str) -> None:
    """Become the first person of a role in the demo."""
    page.emulate_media(media="screen")     # paper has no buttons
    page.goto("/demo/")
    group = page.locator("section", has=page.get_by_role("heading", name=role, exact=True))
    group.get_by_role("button").first.click()
    page.wait_for_load_state()


DRAWN = """() => [...document.querySelectorAll("[data-figure]")].every((place) => {
  const drawn = place.querySelector("svg.main-svg");
  return drawn && drawn.clientHeight > 50 && Math.abs(drawn.clientWidth - place.clientWidth) < 3;
})"""


def shoot(page: Page, name: str, look: tuple[str, int, str, str], folder: Path) -> int:
    """Take one picture; by how many pixels the page is wider than its window."""
    word, width, scheme, medium = look
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme, media=medium)   # type: ignore[arg-type]
    page.wait_for_timeout(300)
    page.wait_for_function(DRAWN)
    over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    page.screenshot(path=folder / f"{name}-{word}.png", full_page=True)
    return int(over)


def walk(page: Page, size: int, folder: Path) -> list[str]:
    """Every page of one practice, as a clinician the caseload and a timeline, as the lead the rest; what went wrong."""
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(f"{size} {page.url}: {said.text}") if said.type == "error" else None)
    be(page, "Clinician")
    addresses = {"caseload": PAGES["caseload"]}
    page.goto(PAGES["caseload"])
    client = page.locator("table.caseload a.who-is")
    if client.count():
        addresses["timeline"] = client.first.get_attribute("href") + "timeline/"
    _take(page, size, folder, addresses, wrong)
    be(page, "Practice lead")
    _take(page, size, folder, {name: address for name, address in PAGES.items() if name != "caseload"}, wrong)
    return wrong


def _take(page: Page, size: int, folder: Path, addresses: dict[str, str], wrong: list[str]) -> None:
    for name, address in addresses.items():
        page.set_viewport_size({"width": 1280, "height": 900})
        page.emulate_media(color_scheme="light", media="screen")
        answer = page.goto(address)
        page.wait_for_load_state("networkidle")
        if answer is None or answer.status != 200:
            wrong.append(f"{size} {address}: {answer and answer.status}")
        for look in LOOKS:
            over = shoot(page, f"{name}-{size}", look, folder)
            if over > 0:
                wrong.append(f"{size} {address} {look[0]}: {over} pixels too wide")
        sys.stdout.write(f"{size} {name}\n")
        sys.stdout.flush()


def main() -> int:
    """1 when a page failed, was too wide or broke the content policy."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("sizes", nargs="*", type=int, choices=SIZES, default=[], metavar="SIZE")
    arguments = parser.parse_args()
    arguments.folder.mkdir(parents=True, exist_ok=True)
    wrong: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=ARGUMENTS)
        for size in arguments.sizes or SIZES:
            if size == SIZES[-1] and not os.environ.get("INTERVALE_DATABASE"):
                sys.stderr.write(f"{size} clients: left out, INTERVALE_DATABASE names no PostgreSQL server\n")
                continue
            with practice(size) as address:
                context = browser.new_context(base_url=address)
                wrong += walk(context.new_page(), size, arguments.folder)
                context.close()
        browser.close()
    sys.stdout.write("\n".join(wrong or ["nothing wrong"]) + "\n")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
