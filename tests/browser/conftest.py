"""A real Chromium, driven against the running application, which must never break its content security policy."""

from __future__ import annotations

import os
import shutil

import pytest
from playwright.sync_api import Page, sync_playwright

CONFLICT = "Failed to load resource: the server responded with a status of 409 (Conflict)"
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
]


def chromium_path() -> str | None:
    """Where Chromium is on this machine."""
    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="module")
def chromium():
    """The browser. Where none is installed the check is left out; CI says that it must be there."""
    path = chromium_path()
    if path is None:
        assert os.environ.get("INTERVALE_BROWSER") != "required", "chromium is not installed"
        pytest.skip("no chromium on this machine")
    with sync_playwright() as playwright, pytest.MonkeyPatch.context() as patch:
        # playwright's own event loop runs in this thread; the ORM calls of the test are not inside it
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def person(chromium, live_server):
    """person() -> a page of somebody's own browser; at the end none of them may have seen an error or a policy violation.

    `refused`: how many answers 409 its scripts are to get, of which Chromium tells the console; neither more nor fewer.
    """
    contexts, complaints, expected = [], [], []

    def opened(*, refused: int = 0, **options) -> Page:
        expected.extend([CONFLICT] * refused)
        context = chromium.new_context(base_url=live_server.url, **options)
        context.set_default_timeout(15_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda line: complaints.append(line.text) if line.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == expected
