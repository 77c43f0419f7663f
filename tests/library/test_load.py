"""Loading the exercise library."""

from uuid import uuid4

import pytest

from clinic.people.refusal import Refusal
from clinic.people.vocab import Region
from programs.library.actions.load_library import load_library
from programs.library.models import Exercise, Level, Precaution
from programs.library.rules.entry import NEVER_ROLL_WITH
from programs.library.vocab import Kind, Severity
from programs.prescribing.models import Item, Program, Revision
from tests.library.files import edit

# relied on by templates and tests of other apps
MUST_BE_THERE = {
    "roll-calf", "roll-glute", "roll-thigh-front", "roll-upper-back", "stretch-hip-flexor-kneeling",
    "stretch-calf-wall", "stretch-hamstring-strap", "stretch-chest-doorway", "stretch-neck-side", "bridge",
    "clamshell", "sit-to-stand", "heel-raise", "step-up", "side-plank", "dead-bug", "bird-dog", "single-leg-stand",
    "chin-tuck", "band-row", "band-external-rotation", "wrist-extensor-lower", "ankle-circles", "brisk-walk",
    "hip-hinge",
}


def test_the_shipped_library_covers_every_region_and_kind(db):
    counts = load_library()
    rows = Exercise.objects.count() + Level.objects.count() + Precaution.objects.count()
    assert counts == {"added": rows, "changed": 0, "kept": 0, "retired": 0}
    assert Exercise.objects.count() >= 40
    assert set(Exercise.objects.values_list("region", flat=True)) == set(Region.values)
    assert set(Exercise.objects.values_list("kind", flat=True)) == set(Kind.values)
    assert set(Exercise.objects.values_list("slug", flat=True)) >= MUST_BE_THERE
    for exercise in Exercise.objects.prefetch_related("levels"):
        assert [level.number for level in exercise.levels.all()] in ([1, 2], [1, 2, 3]), exercise.slug


def test_every_rolling_exercise_carries_the_six_cautions(db):
    load_library()
    for exercise in Exercise.objects.filter(kind=Kind.ROLLING):
        held = dict(exercise.precautions.values_list("condition", "severity"))
        assert {code: held.get(code) for code in NEVER_ROLL_WITH} == dict.fromkeys(NEVER_ROLL_WITH, Severity.DO_NOT)


def test_loading_twice_changes_nothing(folder, db):
    first = load_library(folder)
    ids = set(Level.objects.values_list("pk", flat=True))
    again = load_library(folder)
    assert again == {"added": 0, "changed": 0, "kept": first["added"], "retired": 0}
    assert set(Level.objects.values_list("pk", flat=True)) == ids


def test_an_edit_updates_the_same_level(folder, db):
    load_library(folder)
    before = Level.objects.get(exercise__slug="chin-tuck", number=2).pk
    edit(folder, lambda rows: rows[1]["levels"][1].update(name="Sitting tall"))
    assert load_library(folder)["changed"] == 1
    assert Level.objects.get(pk=before).name == "Sitting tall"


def test_what_has_left_the_files_goes_unless_a_program_uses_it(folder, cast, now):
    load_library(folder)
    used = Level.objects.get(exercise__slug="chin-tuck", number=3)
    program = Program.objects.create(
        client=cast.bo, episode=cast.bo_neck, clinician=cast.theo, title="Neck", status="active", starts=now.date(),
        created=now,
    )
    revision = Revision.objects.create(
        program=program, number=1, effective_from=now.date(), anchor=now.date(), author=cast.theo.user, reason="First",
        at=now,
    )
    Item.objects.create(
        revision=revision, key=uuid4(), position=1, exercise=used.exercise, level=used, dose=used.dose, side="both"
    )
    edit(folder, lambda rows: (rows[1]["levels"].pop(), rows[1]["levels"].pop(), rows.pop(2)))
    edit(folder, lambda said: (said["chin-tuck"]["levels"].__delitem__(slice(1, 3)), said.pop("neck-turn")), "es/neck.json")
    edit(folder, lambda said: said.pop("Small and slow; stop if you feel giddy."), "es/reasons.json", "reasons")
    counts = load_library(folder)
    assert list(Level.objects.filter(exercise__slug="chin-tuck").values_list("number", flat=True)) == [1, 3]
    assert not Exercise.objects.filter(slug="neck-turn").exists()
    assert counts["retired"] > 0


def _no_dvt(rows):
    rows[0]["kind"] = "rolling"
    for level in rows[0]["levels"]:
        level["dose"] = {"type": "roll", "sets": [1, 2], "seconds": [30, 60]}


WALK = {"type": "continuous", "minutes": [5, 9]}


def picture(rows):
    return rows[0]["levels"][0]["drawing"]


FAULTS = [
    (lambda rows: rows[0].update(slug="Neck Side"), "neck.json: Neck Side: slug: must be small letters"),
    (lambda rows: rows[1].update(slug="stretch-neck-side"), "neck.json: stretch-neck-side: slug: another exercise"),
    (lambda rows: rows[0].update(name=""), "neck.json: stretch-neck-side: name: must be a text"),
    (lambda rows: rows[0].update(feel="a" * 201), "feel: may have 200 characters at most, not 201"),
    (lambda rows: rows[0].update(kind="yoga"), "kind: must be one of"),
    (lambda rows: rows[0].update(side="middle"), "side: must be one of"),
    (lambda rows: rows[0].update(equipment=["sofa"]), "equipment: 'sofa' is not known"),
    (lambda rows: rows[0].update(setup_seconds=-1), "setup_seconds: must be 0 to 600, not -1"),
    (lambda rows: rows[0]["precautions"][0].update(condition="cold"), "precautions[1].condition: 'cold' is not known"),
    (lambda rows: rows[0]["precautions"][1].update(condition="fracture"), "precautions[2].condition: fracture is listed"),
    (lambda rows: rows[0]["precautions"][0].update(severity="maybe"), "precautions[1].severity: must be one of"),
    (_no_dvt, "precautions: rolling must carry open_wound as do_not"),
    (lambda rows: rows[0].update(levels=[]), "levels: must be a list of one to five"),
    (lambda rows: rows[0]["levels"][1].update(harder_because=""), "levels[2].harder_because: must say what makes it harder"),
    (lambda rows: rows[0]["levels"][0].update(cues=["One."]), "levels[1].cues: must be three to five"),
    (lambda rows: rows[0]["levels"][0]["dose"].update(holds=[3, 1]), "levels[1].dose.holds: a range needs"),
    (lambda rows: rows[0]["levels"][0].update(dose=WALK), "static_stretch is not dosed by"),
    (lambda rows: picture(rows).update(view="behind"), "levels[1].drawing.view: must be one of"),
    (lambda rows: picture(rows).update(end="flying"), "drawing.end.from: there is no pose named 'flying'"),
    (lambda rows: picture(rows).update(end={"right": {"knee": 200}}), "end.right.knee: 200 degrees is outside"),
    (lambda rows: picture(rows).update(props=[{"prop": "sofa"}]), "drawing.props[1].prop: must be one of"),
    (lambda rows: picture(rows).update(arrow={"point": "tail"}), "levels[1].drawing.arrow.point: 'tail' is not a point"),
]


@pytest.mark.parametrize(("spoil", "sentence"), FAULTS, ids=[sentence for _, sentence in FAULTS])
def test_a_fault_names_file_exercise_and_part_and_nothing_is_loaded(spoil, sentence, folder, db):
    edit(folder, spoil)
    with pytest.raises(Refusal) as refused:
        load_library(folder)
    assert sentence in " | ".join(refused.value.fields.values())
    assert "neck.json" in refused.value.sentence
    assert not Exercise.objects.exists()


def test_a_file_that_is_not_json_names_its_line(folder, db):
    (folder / "neck.json").write_text('{"region": "neck",\n oops}')
    with pytest.raises(Refusal, match=r"neck\.json, line 2"):
        load_library(folder)


def test_a_region_that_does_not_exist_is_named(folder, db):
    (folder / "tail.json").write_text('{"region": "tail", "exercises": []}')
    with pytest.raises(Refusal, match=r"tail\.json: region: must be one of"):
        load_library(folder)
