"""The page that shows what every message says."""

from __future__ import annotations

import html
import re

import pytest

from clinic.reminders.kinds import all_kinds
from clinic.reminders.preview import preview_of

PAGE = "/messages/wordings/"


def _all_pages(browser):
    return "".join(browser.get(PAGE, {"page": number}).content.decode() for number in range(1, 2 + len(all_kinds()) // 8))


def test_every_kind_is_there_in_every_language_it_has(browse, cast):
    text = html.unescape(_all_pages(browse(cast.desk.user)))
    for kind in all_kinds():
        for sheet in preview_of(kind, cast.site).sheets:
            assert sheet.subject in text, kind.code
        assert len(preview_of(kind, cast.site).sheets) == len(kind.wordings)


@pytest.mark.parametrize("kind", all_kinds(), ids=lambda kind: kind.code)
def test_no_hole_is_left_and_the_example_is_in_its_own_language(kind, cast, settings):
    settings.PUBLIC_URL = "https://clinic.example"
    for sheet in preview_of(kind, cast.site).sheets:
        assert not re.search(r"[{}]", sheet.subject + sheet.body)
        assert "https://clinic.example/" in sheet.body or "{url}" not in kind.wordings[sheet.language].body
        if "{day}" in kind.wordings[sheet.language].body and sheet.language == "es":
            assert "martes, 3 de marzo" in sheet.body


def test_a_page_holds_eight_and_takes_six_queries(browse, cast, django_assert_num_queries):
    browser = browse(cast.lead.user)
    with django_assert_num_queries(6):
        page = browser.get(PAGE).content.decode()
    assert page.count('class="card mail"') == 8
    assert '<article lang="es">' in page
