"""Mina accepts or declines; Lou, the desk and clients cannot."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from clinic.people.models import AuditEvent
from clinic.people.refusal import NotThere, Refusal
from clinic.visits.models import Reassessment
from programs.following.actions.accept_suggestion import accept_suggestion
from programs.following.actions.decline_suggestion import decline_suggestion
from programs.following.actions.follow_program import follow_program
from programs.following.models import Suggestion
from programs.following.vocab import SuggestionKind, SuggestionState
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Pause, Revision
from programs.prescribing.queries import plans_of
from tests.following.conftest import BRIDGE, START, done, hip_plan


def suggested(kind: str) -> Suggestion:
    return Suggestion.objects.get(kind=kind, state="open")


@pytest.fixture
def strong(report) -> Suggestion:
    """Two sessions with two repetitions above the goal."""
    for day in range(2):
        report(day, items=done(reps=12), pain_during=1)
    return suggested("progress")


def newest_plan(program):
    return plans_of(program)[-1]


def test_accepting_progress_writes_a_revision_for_tomorrow(cast, program, strong, now):
    later = now + timedelta(days=1)
    accepted = accept_suggestion(by=cast.mina.user, suggestion=strong, now=later)
    revision, plan = newest_plan(program)
    assert (accepted.state, accepted.decided_by, accepted.resulting_revision) == ("accepted", cast.mina.user, revision)
    assert (revision.number, revision.effective_from, revision.author) == (2, START + timedelta(days=2), cast.mina.user)
    bridge = next(item for item in plan.items if item.key == BRIDGE)
    assert (bridge.level, bridge.dose.reps.full) == (2, 8)
    assert plan.phases == hip_plan().phases
    assert AuditEvent.objects.filter(verb="accept_suggestion", by=cast.mina.user, client=cast.ada).count() == 1
    assert not Suggestion.objects.filter(state="open").exists()


def test_it_is_not_proposed_again_until_the_new_level_is_strong_as_well(cast, program, strong, report, now):
    accept_suggestion(by=cast.mina.user, suggestion=strong, now=now + timedelta(days=1))
    report(2, items=done(reps=10), pain_during=1)
    assert not Suggestion.objects.filter(state="open").exists()
    report(3, items=done(reps=10), pain_during=1)
    assert suggested("progress").evidence["change"]["level_to"] == 3


def test_accepting_from_a_day_one_chooses(cast, program, strong, now):
    accept_suggestion(
        by=cast.mina.user, suggestion=strong, now=now + timedelta(days=1), effective_from=START + timedelta(days=5)
    )
    assert newest_plan(program)[0].effective_from == START + timedelta(days=5)


def test_a_day_in_the_past_is_refused_and_leaves_it_open(cast, program, strong, now):
    with pytest.raises(Refusal) as caught:
        accept_suggestion(by=cast.mina.user, suggestion=strong, now=now + timedelta(days=1), effective_from=START)
    assert caught.value.fields["effective_from"]
    strong.refresh_from_db()
    assert strong.state == "open"
    assert Revision.objects.filter(program=program).count() == 1


def test_accepting_twice_is_refused(cast, program, strong, now):
    accept_suggestion(by=cast.mina.user, suggestion=strong, now=now + timedelta(days=1))
    with pytest.raises(Refusal) as caught:
        accept_suggestion(by=cast.mina.user, suggestion=strong, now=now + timedelta(days=1))
    assert (caught.value.code, caught.value.status) == ("already_decided", 409)
    assert Revision.objects.filter(program=program).count() == 2


@pytest.mark.parametrize("who", ["lead", "desk", "ada"])
def test_only_a_clinician_decides(cast, strong, who, now):
    user = getattr(cast, who).user
    with pytest.raises(NotThere):
        accept_suggestion(by=user, suggestion=strong, now=now + timedelta(days=1))
    with pytest.raises(NotThere):
        decline_suggestion(by=user, suggestion=strong, reason="No", now=now + timedelta(days=1))


def test_a_program_changed_meanwhile_moves_the_suggestion_on_to_the_newest_revision(cast, program, strong, now):
    later = now + timedelta(days=1)
    revise_program(
        by=cast.mina.user, program=program, plan=newest_plan(program)[1], effective_from=START + timedelta(days=3),
        reason="A note", based_on=1, now=later,
    )
    strong.refresh_from_db()
    assert (strong.state, strong.revision.number) == ("open", 2)
    accept_suggestion(by=cast.mina.user, suggestion=strong, now=later)
    assert newest_plan(program)[0].number == 3


def test_a_suggestion_made_against_an_older_revision_is_refused(cast, program, strong, now):
    later = now + timedelta(days=1)
    revise_program(
        by=cast.mina.user, program=program, plan=newest_plan(program)[1], effective_from=START + timedelta(days=3),
        reason="A note", based_on=1, now=later,
    )
    Suggestion.objects.filter(pk=strong.pk).update(revision=Revision.objects.get(program=program, number=1))
    with pytest.raises(Refusal) as caught:
        accept_suggestion(by=cast.mina.user, suggestion=strong, now=later)
    assert (caught.value.code, caught.value.status) == ("changed_meanwhile", 412)
    strong.refresh_from_db()
    assert strong.state == "open"


def test_declining_keeps_the_reason_and_rests_a_week(cast, program, strong, report, now):
    decline_suggestion(by=cast.mina.user, suggestion=strong, reason="Her technique first", now=now + timedelta(days=1))
    strong.refresh_from_db()
    assert (strong.state, strong.decision_reason, strong.decided_by) == ("declined", "Her technique first", cast.mina.user)
    report(2, items=done(reps=12), pain_during=1)
    assert not Suggestion.objects.filter(state="open", kind="progress").exists()
    report(9, items=done(reps=12), pain_during=1)
    assert suggested("progress").pk != strong.pk


@pytest.mark.parametrize("reason", ["", "   ", "x" * 301])
def test_declining_needs_a_reason(cast, strong, reason, now):
    with pytest.raises(Refusal) as caught:
        decline_suggestion(by=cast.mina.user, suggestion=strong, reason=reason, now=now)
    assert list(caught.value.fields) == ["reason"]
    strong.refresh_from_db()
    assert strong.state == "open"


def test_a_suggestion_whose_ground_is_gone_closes_itself(program, strong, report):
    report(2, items=done(reps=8), pain_during=1)
    strong.refresh_from_db()
    assert (strong.state, strong.decided_by) == ("outdated", None)


def test_accepting_regress_steps_down(cast, program, report, now):
    for day in range(2):
        report(day, items=done(rating="too_hard"), pain_during=1)
    accept_suggestion(by=cast.mina.user, suggestion=suggested("regress"), now=now + timedelta(days=1))
    bridge = newest_plan(program)[1].items[0]
    assert (bridge.level, bridge.dose.reps.minimum, bridge.dose.reps.full) == (1, 6, 8)   # no easier level: less of it


def test_accepting_the_taper_begins_it_tomorrow(cast, program, report, now):
    for day in range(7):
        report(day, pain_during=1)
    accept_suggestion(by=cast.mina.user, suggestion=suggested("taper"), now=now + timedelta(days=6))
    revision, plan = newest_plan(program)
    assert (revision.effective_from, plan.anchor) == (START + timedelta(days=7), START + timedelta(days=7))
    assert [phase.kind for phase in plan.phases] == ["taper", "maintenance"]


def test_accepting_a_longer_kick_off(cast, program, report, now):
    for day in (0, 2, 4, 6):
        report(day, pain_during=1)
    accept_suggestion(by=cast.mina.user, suggestion=suggested("extend_kick_off"), now=now + timedelta(days=6))
    _, plan = newest_plan(program)
    assert (plan.anchor, plan.phases[0].kind, plan.phases[0].days) == (START, "kick_off", 10)


def test_accepting_pause_and_refer_pauses_and_plans_a_look(cast, program, report, now):
    report(0, pain_during=9)
    accept_suggestion(by=cast.mina.user, suggestion=suggested("pause_and_refer"), now=now)
    program.refresh_from_db()
    assert program.status == "on-hold"
    assert Pause.objects.get(program=program).until is None
    look = Reassessment.objects.get(episode=cast.ada_hip, reason="flag")
    assert (look.earliest, look.due, look.latest) == (START, START + timedelta(days=1), START + timedelta(days=3))
    assert not Suggestion.objects.filter(state="open").exists()


def test_accepting_reassess_plans_a_look(cast, program, report, now):
    for day, pain in enumerate([0, 0, 1, 1, 2, 2, 3, 3, 4, 4]):
        report(day, pain_during=pain)
    accept_suggestion(by=cast.mina.user, suggestion=suggested("reassess"), now=now + timedelta(days=9))
    assert Reassessment.objects.filter(episode=cast.ada_hip, reason="flag", status="open").count() == 1
    assert Revision.objects.filter(program=program).count() == 1


def test_accepting_contact_is_a_note_and_rests(cast, program, report, now):
    report(0, pain_during=6)
    contact = suggested("contact")
    accept_suggestion(by=cast.mina.user, suggestion=contact, note="Called, it was the roller", now=now)
    contact.refresh_from_db()
    assert (contact.state, contact.decision_reason) == ("accepted", "Called, it was the roller")
    follow_program(program=program, now=now + timedelta(hours=1))
    assert not Suggestion.objects.filter(state="open").exists()


def test_one_open_suggestion_per_item_and_kind(program, strong):
    twin = Suggestion(
        program=program, item_key=strong.item_key, kind=SuggestionKind.PROGRESS, state=SuggestionState.OPEN, evidence={},
        rule_set=strong.rule_set, revision=strong.revision, made=strong.made,
    )
    with pytest.raises(IntegrityError), transaction.atomic():
        twin.save()
    twin.state = SuggestionState.OUTDATED
    twin.save()
