"""Reads of the library, its pages and its API."""

import pytest
from django.urls import reverse

from clinic.people.refusal import NotThere
from programs.library import queries
from programs.library.actions.load_library import load_library
from programs.library.models import Exercise, Level, Precaution
from programs.library.rules.dose import Reps, Span
from programs.library.templatetags.library_tags import dose_words, drawing, rest_words


def add(number: int, **values):
    exercise = Exercise.objects.create(**{
        "slug": f"lift-{number}", "name": f"Lift {number}", "region": "hip", "kind": "strength", "side": "each",
        "equipment": ["mat"], "setup": "Lie on your side.", "feel": "Work.", "not_feel": "Pain.", **values,
    })
    for level in (1, 2):
        Level.objects.create(
            exercise=exercise, number=level, name=f"Step {level}", harder_because="Higher." if level > 1 else "",
            cues=["One.", "Two.", "Three."], dose={"type": "reps", "sets": [2, 3], "reps": [8, 12], "tempo": 4, "rest": 60},
            drawing={"view": "side", "end": {"right": {"hip": 20 * level}, "left": {}}},
        )
    Precaution.objects.create(exercise=exercise, condition="fracture", severity="do_not", reason="Not on a broken bone.")
    Precaution.objects.create(exercise=exercise, condition="dizziness", severity="caution", reason="Hold on.")
    return exercise


@pytest.mark.parametrize(
    ("dose", "words"),
    [
        ({"type": "hold", "holds": [2, 3], "seconds": [30, 30]}, "2 to 3 holds of 30 seconds"),
        ({"type": "hold", "holds": 1, "seconds": 1}, "1 hold of 1 second"),
        (
            {"type": "hold", "holds": 2, "seconds": [20, 30], "rest": 5},
            "2 holds of 20 to 30 seconds",
        ),
        ({"type": "reps", "sets": 1, "reps": [8, 12], "tempo": 3, "rest": 9}, "1 set of 8 to 12 repetitions, 3 seconds each"),
        ({"type": "roll", "sets": [1, 2], "seconds": 60, "pass_seconds": 3}, "1 to 2 sets of 60 seconds, 3 seconds a stroke"),
        ({"type": "continuous", "minutes": [15, 30]}, "15 to 30 minutes"),
        (Reps(Span(2, 2), Span(10, 10), 4, 30), "2 sets of 10 repetitions, 4 seconds each"),
    ],
)
def test_a_dose_in_words(dose, words):
    assert dose_words(dose) == words


@pytest.mark.parametrize(
    ("dose", "words"),
    [
        ({"type": "hold", "holds": [1, 2], "seconds": 30, "rest": 5}, "5 seconds of rest between holds"),
        ({"type": "hold", "holds": 1, "seconds": 30, "rest": 5}, ""),
        ({"type": "reps", "sets": 2, "reps": 10, "rest": 60}, "60 seconds of rest between sets"),
        ({"type": "roll", "sets": 2, "seconds": 30}, ""),
        ({"type": "continuous", "minutes": 10}, ""),
    ],
)
def test_the_rest_in_words(dose, words):
    assert rest_words(dose) == words


def test_the_drawing_of_a_level_has_a_title_and_follows_the_side(db):
    level = add(1).levels.first()
    assert "<title>Lift 1: Step 1</title>" in drawing(level, "right")
    assert drawing(level, "each") == drawing(level, "right") != drawing(level, "left")
    level.drawing = {}
    assert drawing(level, "left") == ""


def test_searching_and_filtering(db):
    load_library()
    slugs = lambda **asked: set(queries.exercises(**asked).values_list("slug", flat=True))  # noqa: E731
    assert slugs(text="stretch calf") == {"stretch-calf-wall", "stretch-calf-bent-knee", "stretch-calf-step"}
    assert slugs(text="CALF", kind="rolling") == {"roll-calf"}
    assert slugs(region="neck", kind="static_stretch") == {"stretch-neck-side", "stretch-look-to-armpit"}
    assert slugs(equipment="strap") == {"stretch-hamstring-strap", "knee-press", "heel-slide"}
    assert slugs(text="nothing like it") == slugs(equipment="sofa") == slugs(region="tail") == set()


def test_an_exercise_that_is_not_there(db):
    with pytest.raises(NotThere):
        queries.exercise("handstand")


def test_levels_of_several_exercises_easiest_first(db, django_assert_num_queries):
    add(1), add(2), add(3)
    with django_assert_num_queries(1):
        found = queries.levels_of(["lift-1", "lift-2", "handstand"])
        assert {slug: [(level.number, level.exercise.name) for level in levels] for slug, levels in found.items()} == {
            "lift-1": [(1, "Lift 1"), (2, "Lift 1")], "lift-2": [(1, "Lift 2"), (2, "Lift 2")],
        }


def test_warnings_for_a_persons_conditions_worst_first(db, django_assert_num_queries):
    add(1), add(2)
    with django_assert_num_queries(1):
        found = queries.warnings(["lift-1"], ["dizziness", "fracture", "dvt"])
    assert [tuple(row) for row in found] == [
        ("lift-1", "fracture", "do_not", "Not on a broken bone."), ("lift-1", "dizziness", "caution", "Hold on."),
    ]
    assert queries.warnings(["lift-1"], []) == []


def settled(browser):
    """The first request of a session writes its expiry; the counts are of those after it."""
    assert browser.get("/library/handstand/").status_code == 404
    return browser


# session, user, the count of rows, exercises, levels
@pytest.mark.parametrize("rows", [1, 3])
def test_the_list_page(rows, cast, browse, django_assert_num_queries):
    for number in range(rows):
        add(number)
    browser = settled(browse(cast.mina.user))
    with django_assert_num_queries(5):
        page = browser.get("/library/").content.decode()
    assert page.count("<svg") == rows
    assert "2 to 3 sets of 8 to 12 repetitions" in page
    assert "style=" not in page


@pytest.mark.parametrize("rows", [1, 3])
def test_the_contact_sheet(rows, cast, browse, django_assert_num_queries):
    for number in range(rows):
        add(number)
    browser = settled(browse(cast.lead.user))
    with django_assert_num_queries(4):
        page = browser.get("/library/drawings/").content.decode()
    assert page.count("<svg") == 2 * rows


def test_the_contact_sheet_is_paged(cast, browse, django_assert_num_queries):
    load_library()
    browser = settled(browse(cast.mina.user))
    with django_assert_num_queries(4):
        assert browser.get("/library/drawings/", {"page": 2}).content.decode().count("<svg") == 48


def test_the_list_is_paged_and_filters_stay(cast, browse):
    load_library()
    browser = browse(cast.mina.user)
    page = browser.get("/library/", {"kind": "strength"}).content.decode()
    assert page.count("<svg") == 12
    assert "?kind=strength&amp;page=2" in page
    assert "No exercise fits" in browser.get("/library/", {"text": "handstand"}).content.decode()


def test_the_page_of_an_exercise_says_all_of_it(cast, browse, django_assert_num_queries):
    add(1)
    browser = settled(browse(cast.mina.user))
    with django_assert_num_queries(5):   # session, user, exercise, levels, precautions
        page = browser.get("/library/lift-1/").content.decode()
    for words in ("Lie on your side.", "Bone fracture", "Do not do this", "Take care", "Higher.", "Two.", "each side",
                  "Common practice, no source"):
        assert words in page
    assert page.index("Bone fracture") < page.index("Dizziness or falls")
    assert browser.get("/library/handstand/").status_code == 404


def test_every_page_of_the_shipped_library_opens(cast, browse):
    load_library()
    browser = browse(cast.mina.user)
    for slug in Exercise.objects.filter(region__in=["neck", "calf"]).values_list("slug", flat=True):
        assert browser.get(reverse("library:exercise", args=[slug])).status_code == 200


@pytest.mark.parametrize("rows", [1, 3])
def test_the_api_list(rows, cast, browse, django_assert_num_queries):
    for number in range(rows):
        add(number)
    browser = settled(browse(cast.mina.user))
    with django_assert_num_queries(4):   # session, user, exercises, levels
        body = browser.get("/api/v1/exercises").json()
    assert [row["slug"] for row in body["results"]] == [f"lift-{number}" for number in range(rows)]
    assert body["results"][0]["levels"][1]["dose_words"].startswith("2 to 3 sets")


def test_the_api_pages_by_cursor_and_filters(cast, browse):
    load_library()
    browser = browse(cast.lead.user)
    first = browser.get("/api/v1/exercises", {"page_size": 60}).json()
    second = browser.get(first["next"]).json()
    slugs = [row["slug"] for row in first["results"] + second["results"]]
    assert second["next"] is None
    assert slugs == sorted(Exercise.objects.values_list("slug", flat=True))
    assert len(browser.get("/api/v1/exercises", {"region": "neck"}).json()["results"]) == 8
    refused = browser.get("/api/v1/exercises", {"region": "tail"})
    assert refused.status_code == 400
    assert "region" in refused.json()["errors"]


def test_the_api_of_one_exercise(cast, browse):
    add(1)
    browser = browse(cast.mina.user)
    body = browser.get("/api/v1/exercises/lift-1").json()
    assert body["precautions"][0] == {"condition": "fracture", "severity": "do_not", "reason": "Not on a broken bone."}
    assert [level["number"] for level in body["levels"]] == [1, 2]
    missing = browser.get("/api/v1/exercises/handstand")
    assert missing.status_code == 404
    assert missing.headers["Content-Type"].startswith("application/problem+json")
