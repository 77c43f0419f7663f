"""The portal reads as a child of eleven reads: its own sentences, page by page, and what the library says of each exercise.

Eleven years are the sixth grade of the English formula and primary school on the Spanish scale (`tests/portal/readable.py`).
A sentence has 25 words at most (guidance of the British government's content designers, from memory).
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from programs.portal.catalogue import CONTEXT, PLURAL
from programs.prescribing.paper.words import STOP, WORDS
from tests.portal.readable import PRIMARY_SCHOOL, english, grade, perspicuity, sentences_of, spanish, words_of
from tests.portal.test_spanish import DOORS, PORTAL, SPANISH, TEMPLATES, _of_python, _of_template

LIBRARY = Path(__file__).parents[2] / "fixtures/library"
SIXTH_GRADE = 6.0
MOST_WORDS = 25
ENOUGH = 30          # words: a formula says little of less
HOLE = re.compile(r"%\(\w+\)s|\{\w+\}")


def said_by(path: Path) -> list[tuple[str, str]]:
    """(English, Spanish) of each sentence of a template or module; labels and headings, which have no stop, are left out."""
    found = _of_python(path) if path.suffix == ".py" else _of_template(path)
    pairs = [(text.split(CONTEXT)[-1].split(PLURAL)[-1], SPANISH.get(text, "").split(PLURAL)[-1]) for text in sorted(found)]
    return [(HOLE.sub("Monday", one), HOLE.sub("lunes", other)) for one, other in pairs if re.search(r"[.?!]$", one.strip())]


def _of_exercises(folder: Path) -> dict[str, str]:
    """What a client reads of each exercise: how to begin, the cues, what to feel."""
    told = {}
    for file in sorted(folder.glob("*.json")):
        read = json.loads(file.read_text("utf-8")).get("exercises", {})
        for slug, entry in read.items() if isinstance(read, dict) else ((one["slug"], one) for one in read):
            cues = [cue for level in entry["levels"] for cue in level["cues"]]
            lines = [entry["setup"], *cues, entry["feel"], entry["not_feel"]]
            told[slug] = " ".join(line if line[-1] in ".!?" else f"{line}." for line in lines)
    return told


OWN = {path.name: pairs for path in [*TEMPLATES, *DOORS, *sorted(PORTAL.rglob("*.py"))] if (pairs := said_by(path))}
PAPER = {
    language: " ".join([*STOP[language], words["closing"], words["footer"]]) for language, words in WORDS.items()
}


def whole(index: int, pairs) -> str:
    return " ".join(pair[index] for pair in pairs)


def test_all_of_the_portal():
    pairs = [pair for found in OWN.values() for pair in found]
    assert len(pairs) > 180
    assert grade(whole(0, pairs)) <= SIXTH_GRADE
    assert perspicuity(whole(1, pairs)) >= PRIMARY_SCHOOL


@pytest.mark.parametrize("name", [name for name, pairs in OWN.items() if len(words_of(whole(0, pairs))) >= ENOUGH])
def test_each_page_with_enough_to_read(name):
    assert grade(whole(0, OWN[name])) <= SIXTH_GRADE
    assert perspicuity(whole(1, OWN[name])) >= PRIMARY_SCHOOL


def test_no_sentence_is_long():
    long = [
        sentence for pairs in OWN.values() for pair in pairs for text in pair for sentence in sentences_of(text)
        if len(words_of(sentence)) > MOST_WORDS
    ]
    assert long == []


def test_the_paper_to_take_home():
    assert grade(HOLE.sub("Monday", PAPER["en"])) <= SIXTH_GRADE
    assert perspicuity(HOLE.sub("lunes", PAPER["es"])) >= PRIMARY_SCHOOL
    assert [one for text in PAPER.values() for one in sentences_of(text) if len(words_of(one)) > MOST_WORDS] == []


def test_each_exercise_in_each_language():
    told = _of_exercises(LIBRARY)
    assert len(told) > 90
    assert {slug: grade(text) for slug, text in told.items() if grade(text) > SIXTH_GRADE} == {}
    said = _of_exercises(LIBRARY / "es")
    assert set(said) == set(told)
    assert {slug: perspicuity(text) for slug, text in said.items() if perspicuity(text) < PRIMARY_SCHOOL} == {}


# as any dictionary of the language divides them
@pytest.mark.parametrize(("word", "count"), [
    ("the", 1), ("stop", 1), ("phone", 1), ("signed", 1), ("asked", 1), ("waited", 2), ("exercises", 4), ("exercise", 3),
    ("clinician", 3), ("session", 2), ("sessions", 2), ("morning", 2), ("yesterday", 3), ("people", 2), ("little", 2),
    ("program", 2), ("possible", 3), ("emergency", 4), ("does", 1), ("something", 2), ("breathe", 1), ("muscle", 2),
    ("suddenly", 3), ("area", 3), ("measures", 2), ("reminder", 3), ("don't", 1), ("changes", 2), ("times", 1), ("you", 1),
    ("safely", 2), ("another", 3), ("recovering", 4), ("being", 2), ("numb", 1), ("swollen", 2), ("bowel", 2), ("decides", 2),
    ("calendar", 3), ("address", 2),
])
def test_the_syllables_of_an_english_word(word, count):
    assert english(word) == count


@pytest.mark.parametrize(("word", "count"), [
    ("casa", 2), ("día", 2), ("sesión", 2), ("ejercicio", 4), ("teléfono", 4), ("ahora", 3), ("quien", 1), ("quiere", 2),
    ("rodilla", 3), ("terapeuta", 4), ("pie", 1), ("hoy", 1), ("guía", 2), ("agua", 2), ("leer", 2), ("aún", 2), ("muy", 1),
    ("vergüenza", 3), ("país", 2), ("siguiente", 3), ("y", 1), ("cuidado", 3), ("próximo", 3), ("enseguida", 4), ("línea", 3),
])
def test_the_syllables_of_a_spanish_word(word, count):
    assert spanish(word) == count


def test_the_formulas_against_texts_counted_by_hand():
    # six words and six syllables in one sentence: 0.39 * 6 + 11.8 * 1 - 15.59
    assert grade("The cat sat on the mat.") == pytest.approx(-1.45)
    # six words and nine syllables: 206.835 - 62.3 * 1.5 - 6
    assert perspicuity("El gato está en la casa.") == pytest.approx(107.385)


def test_what_an_office_would_write_is_too_hard():
    office = (
        "Participants experiencing exacerbated symptomatology subsequent to unsupervised rehabilitation activities are "
        "respectfully requested to communicate immediately with the responsible healthcare professional."
    )
    assert grade(office) > SIXTH_GRADE
    oficina = (
        "Los participantes que experimenten una exacerbación sintomatológica posterior a actividades rehabilitadoras no "
        "supervisadas deberán comunicárselo inmediatamente al profesional sanitario responsable."
    )
    assert perspicuity(oficina) < PRIMARY_SCHOOL
