"""Mina takes a suggestion up in another way."""

from datetime import date, timedelta

import pytest
import time_machine

from clinic.people.models import AuditEvent
from clinic.people.refusal import NotThere, Refusal
from clinic.visits.models import Reassessment
from programs.following.actions.alter_suggestion import alter_suggestion
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import Suggestion
from programs.prescribing.models import Revision
from programs.prescribing.queries import plans_of
from tests.following.conftest import BRIDGE, START, done


def newest(program):
    revision, plan = plans_of(program)[-1]
    return revision, next(item for item in plan.items if item.key == BRIDGE), plan


@pytest.fixture
def strong(report) -> Suggestion:
    for day in range(2):
        report(day, items=done(reps=12), pain_during=1)
    return Suggestion.objects.get(kind="progress", state="open")


@pytest.fixture
def later(now):
    return now + timedelta(days=1)


def test_another_level(cast, program, strong, later):
    altered = alter_suggestion(by=cast.mina.user, suggestion=strong, level=3, note="She is ready for more", now=later)
    revision, bridge, _ = newest(program)
    assert (altered.state, altered.resulting_revision, altered.decision_reason) == (
        "altered", revision, "She is ready for more"
    )
    assert (bridge.level, bridge.dose.sets.full, revision.reason) == (3, 3, "Suggestion altered: harder, in another way")
    event = AuditEvent.objects.get(verb="alter_suggestion")
    assert (event.by, event.detail) == (cast.mina.user, {"suggested": "progress", "revision": 2, "chosen": ["level"]})


def test_another_dose_on_the_level_suggested(cast, program, strong, later):
    alter_suggestion(by=cast.mina.user, suggestion=strong, amount=(5, 6), now=later)
    _, bridge, _ = newest(program)
    assert (bridge.level, bridge.dose.reps.minimum, bridge.dose.reps.full) == (2, 5, 6)


def test_staying_on_the_level_with_more_repetitions(cast, program, strong, later):
    alter_suggestion(by=cast.mina.user, suggestion=strong, level=1, amount=(10, 12), now=later)
    _, bridge, _ = newest(program)
    assert (bridge.level, bridge.dose.reps.full) == (1, 12)


def test_another_day(cast, program, strong, later):
    alter_suggestion(by=cast.mina.user, suggestion=strong, effective_from=START + timedelta(days=5), now=later)
    assert newest(program)[0].effective_from == START + timedelta(days=5)
    assert newest(program)[1].level == 2


@pytest.mark.parametrize(
    ("chosen", "code", "field"),
    [
        ({}, "nothing_altered", None),
        ({"level": 2, "amount": (6, 8)}, "nothing_altered", None),
        ({"level": 9}, "invalid", "level"),
        ({"amount": (9, 3)}, "invalid", "amount"),
        ({"effective_from": START}, None, "effective_from"),
        ({"level": 3, "note": "x" * 301}, "invalid", "note"),
    ],
)
def test_what_cannot_be_is_refused_and_leaves_it_open(cast, program, strong, later, chosen, code, field):
    with pytest.raises(Refusal) as caught:
        alter_suggestion(by=cast.mina.user, suggestion=strong, now=later, **chosen)
    assert code in {None, caught.value.code}
    assert field is None or list(caught.value.fields) == [field]
    strong.refresh_from_db()
    assert (strong.state, Revision.objects.filter(program=program).count()) == ("open", 1)


@pytest.mark.parametrize("who", ["lead", "desk", "ada"])
def test_only_a_clinician_alters(cast, strong, later, who):
    with pytest.raises(NotThere):
        alter_suggestion(by=getattr(cast, who).user, suggestion=strong, level=3, now=later)


def test_a_kick_off_gets_as_many_days_as_mina_says(cast, program, report, now):
    for day in (0, 2, 4, 6):
        report(day, pain_during=1)
    longer = Suggestion.objects.get(kind="extend_kick_off", state="open")
    with pytest.raises(Refusal) as caught:
        alter_suggestion(by=cast.mina.user, suggestion=longer, days=9, now=now + timedelta(days=6))
    assert caught.value.fields == {"days": "A kick-off is made 3 to 7 days longer at a time, not 9."}
    alter_suggestion(by=cast.mina.user, suggestion=longer, days=6, now=now + timedelta(days=6))
    assert newest(program)[2].phases[0].days == 13
    follow_programs(now=now + timedelta(days=7))
    assert not Suggestion.objects.filter(kind="extend_kick_off", state="open").exists()   # it rests


def test_a_taper_begins_on_the_day_mina_says(cast, program, report, now):
    for day in range(7):
        report(day, pain_during=1)
    taper = Suggestion.objects.get(kind="taper", state="open")
    alter_suggestion(
        by=cast.mina.user, suggestion=taper, effective_from=START + timedelta(days=10), now=now + timedelta(days=6)
    )
    revision, _, plan = newest(program)
    assert (revision.effective_from, plan.anchor, plan.phases[0].kind) == (date(2026, 3, 12), date(2026, 3, 12), "taper")


def test_a_look_is_due_on_the_day_mina_says(cast, program, strong, later):
    Suggestion.objects.filter(pk=strong.pk).update(kind="reassess", item_key=None)
    with pytest.raises(Refusal) as caught:
        alter_suggestion(by=cast.mina.user, suggestion=strong, now=later)
    assert caught.value.fields == {"effective_from": "Choose a day from today to 60 days ahead."}
    alter_suggestion(by=cast.mina.user, suggestion=strong, effective_from=date(2026, 3, 13), now=later)
    look = Reassessment.objects.get(reason="flag")
    assert (look.earliest, look.due, look.latest) == (date(2026, 3, 11), date(2026, 3, 13), date(2026, 3, 17))


def test_a_call_is_made_or_not(cast, strong, later):
    Suggestion.objects.filter(pk=strong.pk).update(kind="contact", item_key=None)
    with pytest.raises(Refusal) as caught:
        alter_suggestion(by=cast.mina.user, suggestion=strong, effective_from=date(2026, 3, 13), now=later)
    assert caught.value.code == "not_alterable"


def test_on_the_page(cast, browse, program, strong, later):
    with time_machine.travel(later, tick=False):
        page = browse(cast.mina.user).get("/suggestions/").content.decode()
        assert '<option value="2" selected>2 – Level 2</option>' in page
        assert "At least, repetitions" in page
        wrong = browse(cast.mina.user).post(f"/suggestions/{strong.public_id}/alter/", {"level": "many"})
        assert wrong.status_code == 400
        answer = browse(cast.mina.user).post(
            f"/suggestions/{strong.public_id}/alter/", {"level": "2", "least": "4", "full": "6"}, follow=True
        )
        assert "Done in your way." in answer.content.decode()
    assert newest(program)[1].dose.reps.full == 6


def test_over_the_api(cast, browse, program, strong, later):
    with time_machine.travel(later, tick=False):
        address = f"/api/v1/suggestions/{strong.public_id}/alter"
        answer = browse(cast.mina.user).post(address, {"level": 3, "amount": [4, 6]}, content_type="application/json")
        assert (answer.status_code, answer.json()["state"]) == (200, "altered")
        wrong = browse(cast.mina.user).post(address, {"amount": [4]}, content_type="application/json")
        assert wrong.status_code == 400
    assert (newest(program)[1].level, newest(program)[1].dose.reps.full) == (3, 6)
