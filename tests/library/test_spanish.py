"""The Spanish of the shipped library: whole, plain, to one person as "usted", and of no gender."""

import json
import re
from collections import Counter

import pytest

from programs.library.actions.load_library import FOLDER

WORDS = {
    slug: words
    for path in sorted((FOLDER / "es").glob("*.json"))
    for slug, words in json.loads(path.read_text(encoding="utf-8")).get("exercises", {}).items()
}
REASONS = json.loads((FOLDER / "es" / "reasons.json").read_text(encoding="utf-8"))["reasons"]
ENGLISH = {
    entry["slug"]: entry
    for path in sorted(FOLDER.glob("*.json"))
    for entry in json.loads(path.read_text(encoding="utf-8"))["exercises"]
}
EACH = pytest.mark.parametrize("slug", sorted(ENGLISH))

# words that stand in nearly every English sentence and in no Spanish one
LEFT_IN_ENGLISH = re.compile(
    r"\b(the|your|you|and|with|of|to|is|are|on|in|at|from|keep|hold|slowly|knee|hip|foot|feet|hands?|back|down|up)\b", re.I
)
AS_TU = re.compile(r"\b(tú|tu|tus|te|ti|contigo|vosotros|vuestr[oa]s?)\b", re.I)
# participles and adjectives that would say whether the client is a man or a woman
OF_A_GENDER = re.compile(r"\b(sentad[oa]|acostad[oa]|tumbad[oa]|arrodillad[oa]|parad[oa]|quiet[oa] usted)\b", re.I)


def sentences(slug):
    words = WORDS[slug]
    yield from (words["setup"], words["feel"], words["not_feel"])
    for level in words["levels"]:
        yield from level["cues"]
        if level["harder_because"]:
            yield level["harder_because"]


def texts(slug):
    yield WORDS[slug]["name"]
    yield from (level["name"] for level in WORDS[slug]["levels"])
    yield from sentences(slug)


def test_no_two_exercises_and_no_two_levels_of_one_have_the_same_name():
    assert [name for name, count in Counter(words["name"] for words in WORDS.values()).items() if count > 1] == []
    for slug, words in WORDS.items():
        assert len({level["name"] for level in words["levels"]}) == len(words["levels"]), slug


@EACH
def test_no_english_is_left_and_nobody_is_called_tu_or_a_man_or_a_woman(slug):
    for text in texts(slug):
        assert not LEFT_IN_ENGLISH.search(text), text
        assert not AS_TU.search(text), text
        assert not (OF_A_GENDER.search(text) and "pierna arrodillada" not in text), text


@EACH
def test_every_sentence_is_one(slug):
    for text in sentences(slug):
        assert text[0].isupper(), text
        assert text.endswith((".", "?", "!")), text
        assert text == " ".join(text.split()), text
    for text in (WORDS[slug]["name"], *(level["name"] for level in WORDS[slug]["levels"])):
        assert text[0].isupper(), text
        assert not text.endswith("."), text
    for level in WORDS[slug]["levels"]:
        assert all(len(cue.split()) <= 16 for cue in level["cues"])


# what an English word means that is no side and no part of the body
IDIOMS = re.compile(r"right angle|all right|hands and knees|shoulder blades?|hip-width", re.I)
SIDES = {"left": "izquierd", "right": "derech"}
# a part of the body, and the roots of which the Spanish holds one
PARTS = {
    "knee": ("rodilla",), "kneecap": ("rótula",), "heel": ("talón", "talones", "aquiles"), "shoulder": ("hombro",),
    "elbow": ("codo",), "wrist": ("muñeca",), "ankle": ("tobill",), "hip": ("cadera",), "thigh": ("muslo",),
    "palm": ("palma",), "calf": ("pantorrilla",), "chest": ("pecho",), "forearm": ("antebrazo",), "thumb": ("pulgar",),
    "groin": ("ingle",), "buttock": ("glúteo",), "spine": ("columna",), "shin": ("espinilla",), "ribs": ("costillas",),
    "chin": ("barbilla",), "belly": ("abdomen",), "finger": ("dedo", "pulgar"), "toe": ("dedo", "punta", "pie"),
    "arch": ("arco",), "ear": ("oreja",),
}
# the part is named by another word: each was read by a person
OTHERWISE = {"Big toe of one foot beside the other heel's arch.", "Elbows halfway out from the ribs."}


def beside(slug):
    """(English, Spanish) of every text that says how to stand, move or feel."""
    english, spanish = ENGLISH[slug], WORDS[slug]
    yield from ((english[part], spanish[part]) for part in ("setup", "feel", "not_feel"))
    for level, words in zip(english["levels"], spanish["levels"], strict=True):
        yield from zip(level["cues"], words["cues"], strict=True)


@EACH
def test_left_stays_left_and_right_stays_right(slug):
    for english, spanish in beside(slug):
        for word, root in SIDES.items():
            said = re.search(rf"\b{word}\b", IDIOMS.sub("", english), re.I)
            assert bool(said) == (root in spanish.lower()), (english, spanish)


@EACH
def test_the_body_part_is_the_same(slug):
    for english, spanish in beside(slug):
        for word, roots in PARTS.items():
            if english not in OTHERWISE and re.search(rf"\b{word}s?\b", IDIOMS.sub("", english), re.I):
                assert any(root in spanish.lower() for root in roots), (word, english, spanish)


@pytest.mark.parametrize("english", sorted(REASONS))
def test_a_reason_is_plain_spanish_too(english):
    text = REASONS[english]
    assert not LEFT_IN_ENGLISH.search(text)
    assert not AS_TU.search(text)
    assert not OF_A_GENDER.search(text)
    assert text.endswith(".")
    assert text[0].isupper()
