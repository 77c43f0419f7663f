"""Another level for today: only where the clinician left the choice, logged as what was done, and never anything else."""

import json
import uuid
from dataclasses import replace

import pytest

from programs.following.models import DayRecord, ItemLog, SessionLog
from programs.library.models import Level
from programs.library.rules.dose import dose_to_json
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.queries import newest_revision, plan_of
from programs.prescribing.rules.plan import Plan
from tests.portal.conftest import DRAWING, HOLD, PHASES, REPS, STARTS, items

LEAN, LIFT = (str(item.key) for item in items(2))
SAID = {"es": {"name": "Con peso", "cues": ["Suelte el aire"]}}


@pytest.fixture
def ladder(exercises):
    """Three levels of the lean; the lift's second level is timed, not counted."""
    lean, lift, _roll = exercises
    for number, name in ((2, "Middle"), (3, "With a weight")):
        Level.objects.create(
            exercise=lean, number=number, name=name, cues=[f"Cue of {name}"], dose=dose_to_json(HOLD), drawing=DRAWING,
            said=SAID if number == 3 else {},
        )
    Level.objects.create(exercise=lift, number=2, name="Held", cues=[], dose=dose_to_json(HOLD), drawing=DRAWING)


@pytest.fixture
def give(cast, ladder, now):
    """give(leeway) -> Ada's program with the lean at level 2 and the lift at level 1, both with that choice."""

    def given(leeway):
        lean, lift = items(2)
        both = (replace(lean, level=2, leeway=leeway), replace(lift, leeway=leeway))
        return prescribe_program(
            by=cast.mina.user, episode=cast.ada_hip, plan=Plan(STARTS, PHASES, both), title="Hip at home", starts=STARTS,
            now=now,
        )

    return given


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


def offered(browser):
    """(way, level) of every item the API lets the client choose from."""
    cards = browser.get("/api/v1/me/plan").json()["programs"][0]["revisions"][0]["items"]
    return [[(other["way"], other["level"]) for other in card["other_levels"]] for card in cards]


def typed(program, **changes):
    return {
        "log_id": str(uuid.UUID(int=77)), "revision": str(newest_revision(program).public_id), "day": "2026-03-02",
        "words": "Slept badly", f"{LEAN}-done": "full", f"{LIFT}-done": "full", **changes,
    }


def send(browser, program, level, key=LEAN):
    session = {
        "log_id": str(uuid.uuid4()), "revision": str(newest_revision(program).public_id), "day": "2026-03-02",
        "items": [{"item_key": key, "done_left": 110, "done_right": 110, "level": level}],
    }
    answer = browser.post("/api/v1/me/sessions", json.dumps({"sessions": [session]}), content_type="application/json")
    return answer.json()["results"][0]


@pytest.mark.parametrize(
    ("leeway", "levels"),
    [("none", []), ("easier", [("easier", 1)]), ("either", [("easier", 1), ("harder", 3)])],
)
def test_what_is_offered_is_what_was_allowed(ada, give, leeway, levels):
    give(leeway)
    assert offered(ada) == [levels, []]   # the lift has no level beside it that is dosed alike
    page = ada.get("/portal/session/").content.decode()
    assert (f'name="{LEAN}-level"' in page) == bool(levels)
    assert f'name="{LIFT}-level"' not in page
    assert ("Harder: With a weight" in page) == (("harder", 3) in levels)


def test_an_offered_level_comes_with_cues_drawing_and_the_prescribed_dose(ada, give):
    give("easier")
    card = ada.get("/api/v1/me/today").json()["items"][0]
    assert card["other_levels"] == [{
        "level": 1, "way": "easier", "level_name": "Easy", "cues": ["Breathe out slowly"], "drawing": DRAWING,
        "dose": card["dose"],
    }]


def test_the_choice_costs_one_query(ada, give, program, django_assert_num_queries):
    """`program` gives no choice."""
    ada.get("/api/v1/me/plan")
    with django_assert_num_queries(9):
        ada.get("/api/v1/me/plan")
    revision = newest_revision(program)
    plan = plan_of(revision)
    plan = replace(plan, items=(replace(plan.items[0], leeway="either"), *plan.items[1:]))
    revise_program(
        by=program.clinician.user, program=program, plan=plan, effective_from=STARTS.replace(month=3, day=2), reason="Choice",
        based_on=1, now=revision.at,
    )
    with django_assert_num_queries(10):
        ada.get("/api/v1/me/plan")


def test_the_page_logs_the_level_that_was_chosen(ada, give):
    program = give("either")
    answer = ada.post("/portal/session/", typed(program, **{f"{LEAN}-level": "1"}))
    assert answer.status_code == 302
    assert {str(row.item_key): row.level for row in ItemLog.objects.all()} == {LEAN: 1, LIFT: None}


def test_a_level_that_is_not_offered_is_said_at_the_field_and_nothing_is_lost(ada, give):
    program = give("easier")
    answer = ada.post("/portal/session/", typed(program, **{f"{LEAN}-level": "3"}))
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "Choose one of the levels shown." in page
    assert f'href="#id_{LEAN}-level"' in page
    assert "Slept badly" in page
    assert not SessionLog.objects.exists()


def test_the_api_takes_the_prescribed_level_and_those_beside_it(ada, give):
    program = give("either")
    assert [send(ada, program, level)["result"] for level in (None, 1, 2, 3)] == ["stored"] * 4
    assert list(ItemLog.objects.order_by("pk").values_list("level", flat=True)) == [None, 1, 2, 3]


@pytest.mark.parametrize(
    ("leeway", "level", "key"),
    [("none", 1, LEAN), ("easier", 3, LEAN), ("either", 4, LEAN), ("either", 2, LIFT)],
)
def test_the_api_refuses_every_other_level_and_says_where(ada, give, leeway, level, key):
    handed = send(ada, give(leeway), level, key)
    assert (handed["result"], handed["code"]) == ("refused", "level_not_allowed")
    assert handed["errors"] == {"items.0.level": "This level was not one of those to choose from."}
    assert not SessionLog.objects.exists()


def test_what_counts_is_what_the_shown_revision_allowed(ada, give, cast, now):
    program = give("easier")
    shown = newest_revision(program)
    plan = plan_of(shown)
    later = replace(plan, items=tuple(replace(item, leeway="none") for item in plan.items))
    revise_program(
        by=cast.mina.user, program=program, plan=later, effective_from=now.date(), reason="No more", based_on=1, now=now
    )
    kept = typed(program, **{f"{LEAN}-level": "1", "revision": str(shown.public_id)})
    assert ada.post("/portal/session/", kept).status_code == 302
    assert send(ada, program, 1)["result"] == "refused"


def test_the_day_counts_the_same_at_whichever_level(ada, give):
    program = give("either")
    counted = []
    for number, level in ((1, ""), (2, "1")):
        ada.post("/portal/session/", typed(program, log_id=str(uuid.UUID(int=number)), **{f"{LEAN}-level": level}))
        day = DayRecord.objects.get(program=program, day="2026-03-02")
        counted.append(day.done_seconds / day.sessions_done)
    assert counted[0] == counted[1] > 0


def test_the_clinician_reads_which_level_was_done(ada, give, cast, browse):
    program = give("either")
    ada.post("/portal/session/", typed(program, **{f"{LEAN}-level": "1"}))
    page = " ".join(browse(cast.mina.user).get(f"/programs/{program.public_id}/logs/").content.decode().split())
    assert "Half-kneeling lean: left 110 s, right 110 s, at level 1" in page
    assert page.count("at level") == 1


def test_a_phone_without_signal_keeps_the_levels(ada, give):
    give("either")
    page = ada.get("/portal/pocket/").content.decode()
    assert "Easier: Easy" in page
    assert "Harder: With a weight" in page
    assert 'data-level="3"' in page


def test_in_spanish(ada, give, cast):
    program = give("either")
    cast.ada.language = "es"
    cast.ada.save()
    page = ada.get("/portal/session/").content.decode()
    for words in ("¿Qué nivel hoy?", "Lo previsto: Middle", "Más fácil: Easy", "Más difícil: Con peso", "Suelte el aire"):
        assert words in page
    assert send(ada, program, 4)["reason"] == "No puede elegir este nivel del ejercicio."


def test_the_doses_of_this_file_are_of_two_kinds():
    assert dose_to_json(HOLD)["type"] != dose_to_json(REPS)["type"]
