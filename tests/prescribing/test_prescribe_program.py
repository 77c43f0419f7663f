from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection
from django.db.models.signals import pre_save
from django.test.utils import CaptureQueriesContext

from clinic.people.models import AuditEvent, Condition
from clinic.people.refusal import Refusal
from clinic.people.vocab import EpisodeStatus
from clinic.visits.models import Reassessment
from programs.library.rules.dose import Span
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Item, Phase, Program, Revision
from programs.prescribing.queries import newest_revision, open_program, plan_of, plans_of, revision_on
from programs.prescribing.rules.plan import ItemPlan
from programs.prescribing.signals import program_changed
from tests.prescribing.conftest import ROLL

CLOT = "dvt"


@pytest.fixture
def give(cast, library, plan, now):
    def given(**other):
        values = {
            "by": cast.mina.user, "episode": cast.ada_hip, "plan": plan, "title": "Hip start", "starts": now.date(),
            "now": now, **other,
        }
        return prescribe_program(**values)

    return given


def rolling(plan):
    return replace(plan, items=(*plan.items, ItemPlan(plan.items[0].key.__class__(int=9), "roll-glute", 1, ROLL)))


def test_the_plan_that_was_given_is_the_plan_that_is_read(give, plan, cast):
    program = give()
    assert (program.status, program.clinician, program.client) == ("active", cast.mina, cast.ada)
    revision = newest_revision(program)
    assert (revision.number, revision.effective_from, revision.anchor) == (1, plan.anchor, plan.anchor)
    assert plan_of(revision) == plan
    assert open_program(cast.ada_hip) == program


def test_a_program_counts_from_its_first_day_whatever_the_plan_was_anchored_to(give, plan, now):
    starts = now.date() + timedelta(3)
    program = give(plan=replace(plan, anchor=date(2000, 1, 3)), starts=starts)
    assert newest_revision(program).anchor == starts
    assert revision_on(program, starts - timedelta(1)) is None


def test_the_end_of_the_kick_off_is_looked_at_again(give, cast, now):
    give()
    row = Reassessment.objects.get(episode=cast.ada_hip)
    assert row.reason == "kick_off_end"
    assert row.due == now.date() + timedelta(7)


def test_the_apps_above_are_told_inside_the_transaction(give, now):
    told = []

    def receiver(sender, program, now, **rest):
        told.append((program.title, connection.in_atomic_block))

    program_changed.connect(receiver, weak=False)
    try:
        give()
    finally:
        program_changed.disconnect(receiver)
    assert told == [("Hip start", True)]


def test_what_is_wrong_is_refused_by_its_path_and_nothing_is_kept(give, plan, now):
    steeper = replace(plan, phases=(plan.phases[1], replace(plan.phases[1], sessions=Span(1, 3))))
    with pytest.raises(Refusal) as refused:
        give(plan=steeper, title=" ", starts=now.date() + timedelta(181))
    assert refused.value.status == 400
    assert set(refused.value.fields) == {"title", "starts", "phases.1.sessions"}
    assert Program.objects.count() == 0


@pytest.mark.parametrize(("slug", "level", "path"), [("moonwalk", 1, "items.0.exercise"), ("clamshell", 3, "items.0.level")])
def test_an_exercise_or_level_the_library_does_not_hold_is_refused(give, plan, slug, level, path):
    odd = replace(plan, items=(replace(plan.items[0], exercise=slug, level=level),))
    with pytest.raises(Refusal) as refused:
        give(plan=odd)
    assert path in refused.value.fields


def test_an_episode_has_one_open_program_and_a_closed_one_has_none(give, cast):
    give()
    with pytest.raises(Refusal, match="already has a program") as refused:
        give()
    assert refused.value.code == "already_open"
    cast.bo_neck.status = EpisodeStatus.FINISHED
    cast.bo_neck.save()
    with pytest.raises(Refusal) as refused:
        give(episode=cast.bo_neck)
    assert refused.value.code == "episode_closed"


def test_what_a_screening_answer_speaks_against_is_refused_with_the_reason(give, plan, cast, now):
    Condition.objects.create(client=cast.ada, code=CLOT, since=now.date())
    with pytest.raises(Refusal) as refused:
        give(plan=rolling(plan))
    assert (refused.value.code, refused.value.status) == ("contraindicated", 409)
    assert refused.value.numbers["warnings"] == [
        {"exercise": "roll-glute", "condition": CLOT, "reason": "A clot can come loose."}
    ]
    assert Program.objects.count() == 0
    # the same client may have what nothing speaks against, and a caution does not refuse
    Condition.objects.create(client=cast.ada, code="recent_surgery", since=now.date())
    assert give(plan=plan).status == "active"


def test_a_clinician_may_overrule_with_a_reason_that_is_kept(give, plan, cast, now):
    Condition.objects.create(client=cast.ada, code=CLOT, since=now.date())
    with pytest.raises(Refusal) as refused:
        give(plan=rolling(plan), override_reason="because")
    assert "override_reason" in refused.value.fields
    program = give(plan=rolling(plan), override_reason="Cleared by the vascular team last week.")
    assert newest_revision(program).reason == "Cleared by the vascular team last week."
    event = AuditEvent.objects.get(verb="override_contraindication")
    assert event.detail == {"against": [["roll-glute", CLOT]]}


def test_a_condition_that_has_passed_does_not_count(give, plan, cast, now):
    Condition.objects.create(client=cast.ada, code=CLOT, since=date(2025, 1, 1), until=now.date() - timedelta(1))
    assert give(plan=rolling(plan)).status == "active"


@pytest.mark.parametrize("model", [Program, Revision])
def test_a_failure_while_writing_leaves_nothing(give, model):
    def fail(sender, **rest):
        raise RuntimeError("power cut")

    pre_save.connect(fail, sender=model, weak=False)
    try:
        with pytest.raises(RuntimeError):
            give()
    finally:
        pre_save.disconnect(fail, sender=model)
    assert [row.objects.count() for row in (Program, Revision, Phase, Item)] == [0, 0, 0, 0]


def test_reading_all_plans_takes_three_queries_however_many_there_are(give, django_assert_num_queries):
    program = give()
    with django_assert_num_queries(3):
        (_, plan), = plans_of(program)
    assert len(plan.items) == 2


def test_reading_a_plan_again_takes_none(give):
    revision = newest_revision(give())
    with CaptureQueriesContext(connection) as queries:
        plan_of(revision)
    assert len(queries) == 0


def test_a_side_that_the_exercise_does_not_have_is_refused_at_its_field(cast, library, plan, now):
    library.clamshell.side = "both"   # done with both legs together: it has no left and no right
    library.clamshell.save()
    for side, accepted in (("left", False), ("each", False), ("both", True)):
        asked = replace(plan, items=(replace(plan.items[0], side=side),))
        given = {"by": cast.mina.user, "episode": cast.ada_hip, "plan": asked, "title": "Hip"}
        given |= {"starts": now.date(), "now": now}
        if accepted:
            assert prescribe_program(**given).status == "active"
            continue
        with pytest.raises(Refusal) as refused:
            prescribe_program(**given)
        assert list(refused.value.fields) == ["items.0.side"]
        assert Program.objects.count() == 0
