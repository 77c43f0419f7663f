"""The library in another language: what is refused, what is stored, and what a client of that language is given."""

import json

import pytest

from clinic.people.refusal import Refusal
from programs.library import queries
from programs.library.actions.load_library import FOLDER, load_library
from programs.library.models import Exercise, Level, Precaution
from programs.library.rules.translation import LANGUAGES, words_in
from tests.library.files import edit

TUCK = json.loads((FOLDER / "neck.json").read_text())["exercises"][1]
FAULTS = [
    (lambda said: said.pop("chin-tuck"), "chin-tuck: is missing"),
    (lambda said: said.update({"chin-up": said["chin-tuck"]}), "chin-up: there is no such exercise in English"),
    (lambda said: said.update({"chin-tuck": "Barbilla"}), "chin-tuck: exercise: must be an object"),
    (lambda said: said["chin-tuck"].pop("feel"), "chin-tuck: feel: must be a text"),
    (lambda said: said["chin-tuck"].update(name="  "), "chin-tuck: name: must say what the English does"),
    (lambda said: said["chin-tuck"].update(setup=TUCK["setup"]), "chin-tuck: setup: is still English"),
    (lambda said: said["chin-tuck"].update(setup=TUCK["setup"].upper()), "chin-tuck: setup: is still English"),
    (lambda said: said["chin-tuck"].update(feel="x" * 201), "chin-tuck: feel: may have 200 characters at most, not 201"),
    (lambda said: said["chin-tuck"].update(side="ambos"), "chin-tuck: side: there is no such part"),
    (lambda said: said["chin-tuck"]["levels"].pop(), "chin-tuck: levels: must be a list of 3, as in English"),
    (lambda said: said["chin-tuck"]["levels"].__setitem__(1, None), "chin-tuck: levels[2]: must be an object"),
    (lambda said: said["chin-tuck"]["levels"][0].update(harder_because="Más."), "levels[1].harder_because: the English says"),
    (lambda said: said["chin-tuck"]["levels"][1].update(harder_because=""), "levels[2].harder_because: must say what"),
    (lambda said: said["chin-tuck"]["levels"][1].update(dose="dos"), "chin-tuck: levels[2].dose: there is no such part"),
    (lambda said: said["chin-tuck"]["levels"][1]["cues"].pop(), "chin-tuck: levels[2].cues: must be a list of 3"),
    (lambda said: said["chin-tuck"]["levels"][1]["cues"].append("Respire."), "levels[2].cues: must be a list of 3"),
    (
        lambda said: said["chin-tuck"]["levels"][1]["cues"].__setitem__(2, TUCK["levels"][1]["cues"][2]),
        "chin-tuck: levels[2].cues[3]: is still English",
    ),
]


@pytest.mark.parametrize(("spoil", "sentence"), FAULTS, ids=[sentence for _, sentence in FAULTS])
def test_a_word_that_a_language_lacks_names_exercise_and_part_and_nothing_is_loaded(spoil, sentence, folder, db):
    edit(folder, spoil, "es/neck.json")
    with pytest.raises(Refusal) as refused:
        load_library(folder)
    assert [fault for fault in refused.value.fields.values() if sentence in fault]
    assert all(fault.startswith("es/neck.json: ") for fault in refused.value.fields.values())
    assert not Exercise.objects.exists()


REASON = "Press very lightly."


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda said: said.pop(REASON), f"'{REASON}' is missing"),
        (lambda said: said.update({"Go home.": "Váyase."}), "'Go home.' is the reason of no precaution"),
        (lambda said: said.update({REASON: ""}), f"'{REASON}': must say what the English does"),
        (lambda said: said.update({REASON: REASON}), f"'{REASON}': is still English"),
    ],
)
def test_a_reason_that_a_language_lacks_is_named(spoil, sentence, folder, db):
    edit(folder, spoil, "es/reasons.json", "reasons")
    with pytest.raises(Refusal) as refused:
        load_library(folder)
    assert list(refused.value.fields.values()) == [f"es/reasons.json: {sentence}"]


def test_a_file_that_is_not_there_misses_every_exercise_by_name(folder, db):
    (folder / "es" / "neck.json").unlink()
    with pytest.raises(Refusal) as refused:
        load_library(folder)
    assert f"es/neck.json: {TUCK['slug']}: is missing" in refused.value.fields.values()
    assert len(refused.value.fields) == 8


def test_a_file_that_cannot_be_read_names_its_folder(folder, db):
    (folder / "es" / "neck.json").write_text('{"exercises":\n oops}')
    with pytest.raises(Refusal, match=r"es/neck\.json, line 2"):
        load_library(folder)


def test_one_word_may_be_the_same_in_both_languages(folder, db):
    edit(folder, lambda rows: rows[2]["levels"][1].update(name="Normal"))
    edit(folder, lambda said: said["neck-turn"]["levels"][1].update(name="Normal"), "es/neck.json")
    load_library(folder)
    assert Level.objects.get(exercise__slug="neck-turn", number=2).in_language("es").name == "Normal"


def test_each_row_of_the_shipped_library_holds_every_language(db):
    load_library()
    for model in (Exercise, Level, Precaution):
        for said in model.objects.values_list("said", flat=True):
            assert set(said) == set(LANGUAGES)
    said = json.loads((FOLDER / "es" / "hip.json").read_text())["exercises"]["bridge"]
    bridge = queries.exercise("bridge")
    assert bridge.in_language("es").setup == said["setup"]
    assert list(bridge.levels.all()[2].in_language("es").cues) == said["levels"][2]["cues"]


def test_an_edited_sentence_changes_one_row(folder, db):
    load_library(folder)
    edit(folder, lambda said: said["neck-turn"].update(feel="Un giro fácil."), "es/neck.json")
    assert load_library(folder)["changed"] == 1
    assert Exercise.objects.get(slug="neck-turn").in_language("es").feel == "Un giro fácil."


@pytest.mark.parametrize(("tag", "name"), [("es", "Puente"), ("es-MX", "Puente"), ("ES_ar", "Puente"), ("en-GB", "Bridge"),
                                           ("fr", "Bridge"), ("", "Bridge")])
def test_a_client_of_a_language_we_lack_reads_english(tag, name):
    exercise = Exercise(name="Bridge", said={"es": {"name": "Puente"}})
    assert exercise.in_language(tag).name == name
    assert words_in(exercise.said, tag) == ({"name": "Puente"} if name == "Puente" else {})
