"""A client who speaks Spanish reads the exercises in Spanish, on every page, through the API, and without signal."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from uuid import UUID

import pytest

from programs.library.actions.load_library import FOLDER, load_library
from programs.library.models import Exercise, Level
from programs.library.rules.dose import dose_from_json
from programs.portal import catalogue
from programs.portal.catalogue import CONTEXT, PLURAL, read_po
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.rules.plan import ItemPlan, Plan
from tests.conftest import NOW
from tests.portal.conftest import PHASES, STARTS

GIVEN = ("roll-calf", "single-leg-stand", "bridge", "sit-to-stand", "chin-tuck", "band-row", "dead-bug", "wrist-curl")
ENGLISH = {
    entry["slug"]: entry
    for path in sorted(FOLDER.glob("*.json"))
    for entry in json.loads(path.read_text(encoding="utf-8"))["exercises"]
}
SPANISH = {
    slug: words
    for path in sorted((FOLDER / "es").glob("*.json"))
    for slug, words in json.loads(path.read_text(encoding="utf-8")).get("exercises", {}).items()
}
SENTENCES = {
    text for key in read_po(catalogue.PATH.read_text("utf-8")) if CONTEXT not in key
    for text in key.split(PLURAL) if "%" not in text and "<" not in text and len(text.split()) > 1
}
LEFT_IN_ENGLISH = re.compile(r"\b(the|your|you|and|with|of|to|is|are|for|on|at|how|what|when|this|that|not|day|days)\b", re.I)
PAGES = ("", "session/", "morning/", "weeks/", "visits/", "help/", "help/stop/", "messages/", "devices/", "pocket/")


class Said(HTMLParser):
    """What a page says: its text, and what its attributes say aloud or hand to a script."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.quiet = 0
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.quiet += tag in {"script", "style"}
        for name, value in attrs:
            if value and value.startswith("[{"):   # rows for a script: the timer's steps, the days ahead
                self.found += [row["words"] for row in json.loads(value) if "words" in row]
            elif value and (name in {"aria-label", "title", "alt", "placeholder"} or name.startswith("data-")):
                self.found.append(value)

    def handle_endtag(self, tag):
        self.quiet -= tag in {"script", "style"}

    def handle_data(self, data):
        if not self.quiet and data.strip():
            self.found.append(" ".join(data.split()))


@pytest.fixture
def spanish_ada(cast):
    """Ada, who speaks Spanish, with a program of one exercise a region, hardest level each."""
    load_library()
    cast.ada.language = "es-MX"
    cast.ada.save()
    items = tuple(_item(number, slug) for number, slug in enumerate(GIVEN, start=1))
    prescribe_program(
        by=cast.ada_hip.lead.user, episode=cast.ada_hip, plan=Plan(STARTS, PHASES, items), title="Cadera en casa",
        starts=STARTS, now=NOW,
    )
    return cast.ada.user


def _item(number: int, slug: str) -> ItemPlan:
    level = Level.objects.filter(exercise__slug=slug).order_by("number").last()
    return ItemPlan(
        UUID(int=number), slug, level.number, dose_from_json(level.dose), side=Exercise.objects.get(slug=slug).side
    )


def _english_of(slug: str) -> set[str]:
    entry = ENGLISH[slug]
    level = entry["levels"][-1]
    return {entry["name"], entry["setup"], entry["feel"], entry["not_feel"], level["name"], *level["cues"]}


@pytest.mark.parametrize("address", PAGES)
def test_no_page_says_an_english_sentence(spanish_ada, browse, address):
    found = Said(browse(spanish_ada).get(f"/portal/{address}").content.decode()).found
    assert len(found) > 10
    library = set().union(*map(_english_of, GIVEN))
    for text in found:
        assert text not in SENTENCES, text
        assert text not in library, text
        assert not LEFT_IN_ENGLISH.search(text), text


@pytest.mark.parametrize("address", ["", "session/", "pocket/"])
def test_the_exercises_are_said_in_spanish(spanish_ada, browse, address):
    found = Said(browse(spanish_ada).get(f"/portal/{address}").content.decode()).found
    for slug in GIVEN:
        words, level = SPANISH[slug], SPANISH[slug]["levels"][-1]
        for text in (words["name"], words["setup"], words["feel"], words["not_feel"], level["name"], *level["cues"]):
            assert text in found, text
    assert "Necesita: rodillo de espuma, colchoneta." in found


def test_the_api_says_them_in_spanish(spanish_ada, browse):
    program, = browse(spanish_ada).get("/api/v1/me/plan").json()["programs"]
    cards = {card["exercise"]: card for held in program["revisions"] for card in held["items"]}
    today = {card["exercise"]: card for card in browse(spanish_ada).get("/api/v1/me/today").json()["items"]}
    assert set(cards) == set(today) == set(GIVEN)
    for slug, card in [*cards.items(), *today.items()]:
        words, level = SPANISH[slug], SPANISH[slug]["levels"][-1]
        assert {part: card[part] for part in ("name", "setup", "feel", "not_feel")} == {
            part: words[part] for part in ("name", "setup", "feel", "not_feel")
        }
        assert (card["level_name"], card["cues"]) == (level["name"], level["cues"])


def test_the_drawings_are_called_in_spanish(spanish_ada, browse):
    page = browse(spanish_ada).get("/portal/").content.decode()
    assert "Puente: Una pierna" in page
    assert "Bridge" not in page


def test_bo_beside_her_reads_the_same_exercises_in_english(spanish_ada, cast, browse):
    cast.ada.language = "en"
    cast.ada.save()
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert ENGLISH["bridge"]["setup"] in page
    assert SPANISH["bridge"]["setup"] not in page


def test_a_mended_sentence_reaches_the_phone_that_keeps_the_days_ahead(spanish_ada, browse):
    phone = browse(spanish_ada)
    kept = phone.get("/portal/pocket/").headers["ETag"]
    assert phone.get("/portal/pocket/", headers={"If-None-Match": kept}).status_code == 304
    bridge = Exercise.objects.get(slug="bridge")
    bridge.said["es"]["setup"] = "Acuéstese boca arriba, rodillas dobladas."
    bridge.save()
    again = phone.get("/portal/pocket/", headers={"If-None-Match": kept})
    assert again.status_code == 200
    assert "Acuéstese boca arriba, rodillas dobladas." in again.content.decode()


def test_reading_them_takes_as_many_queries_as_in_english(spanish_ada, browse, django_assert_num_queries):
    phone = browse(spanish_ada)
    phone.get("/portal/")
    with django_assert_num_queries(13):
        phone.get("/portal/")
