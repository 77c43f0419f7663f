import threading
from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from clinic.people.models import Condition
from clinic.people.refusal import Refusal
from clinic.visits.models import Reassessment
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Item, Phase, Revision
from programs.prescribing.queries import newest_revision, plan_of, plans_of, revision_on
from programs.prescribing.rules.plan import from_phase

REASON = "Ready for a harder level."


def harder(plan):
    return replace(plan, items=(replace(plan.items[0], level=2), plan.items[1]))


@pytest.fixture
def revise(cast, program, now):
    def revised(plan, **other):
        values = {
            "by": cast.mina.user, "program": program, "plan": plan, "effective_from": now.date(), "reason": REASON,
            "based_on": 1, "now": now, **other,
        }
        return revise_program(**values)

    return revised


def test_a_change_is_a_new_revision_and_the_old_one_stays(revise, program, plan, now):
    revision = revise(harder(plan), effective_from=now.date() + timedelta(2))
    assert (revision.number, revision.reason) == (2, REASON)
    assert [kept for _, kept in plans_of(program)] == [plan, harder(plan)]
    assert revision_on(program, now.date() + timedelta(1)).number == 1
    assert revision_on(program, now.date() + timedelta(2)).number == 2


def test_a_change_is_not_dated_back(revise, plan, now, program):
    with pytest.raises(Refusal) as refused:
        revise(harder(plan), effective_from=now.date() - timedelta(1))
    assert refused.value.status == 400
    assert "effective_from" in refused.value.fields
    assert program.revisions.count() == 1


def test_today_is_the_client_s_day(revise, plan, program, cast, now):
    cast.ada.zone = "Pacific/Auckland"   # 22:00 on the same Monday
    cast.ada.save()
    late = now + timedelta(hours=3)      # Tuesday there
    with pytest.raises(Refusal):
        revise(harder(plan), now=late)
    assert revise(harder(plan), effective_from=now.date() + timedelta(1), now=late).number == 2


def test_a_change_of_what_somebody_else_changed_names_the_differences(revise, plan, program):
    revise(harder(plan))
    with pytest.raises(Refusal) as refused:
        revise(replace(plan, items=plan.items[:1]))
    assert (refused.value.code, refused.value.status) == ("changed_meanwhile", 412)
    assert refused.value.numbers["newest"] == 2
    assert refused.value.numbers["differences"] == [{"code": "level", "where": "clamshell", "was": 1, "now": 2}]
    assert program.revisions.count() == 2
    # the same change based on what is there now is accepted
    assert revise(replace(harder(plan), items=harder(plan).items[:1]), based_on=2).number == 3


def test_a_revision_that_never_was_is_refused_too(revise, plan):
    with pytest.raises(Refusal) as refused:
        revise(harder(plan), based_on=7)
    assert refused.value.numbers["differences"] == []


def test_the_reason_and_the_anchor_are_checked(revise, plan, now):
    with pytest.raises(Refusal) as refused:
        revise(replace(plan, anchor=now.date() + timedelta(1)), reason="")
    assert set(refused.value.fields) == {"reason", "anchor"}


def test_an_ended_program_is_not_changed(revise, plan, program, cast, now):
    end_program(by=cast.mina.user, program=program, status="completed", now=now)
    with pytest.raises(Refusal) as refused:
        revise(harder(plan))
    assert refused.value.code == "not_open"


def test_a_longer_kick_off_moves_its_reassessment_and_another_change_does_not(revise, plan, cast, now):
    before = Reassessment.objects.get(episode=cast.ada_hip)
    revise(harder(plan))
    assert Reassessment.objects.get(episode=cast.ada_hip).due == before.due
    revise(replace(plan, phases=(replace(plan.phases[0], days=10), *plan.phases[1:])), based_on=2)
    assert Reassessment.objects.get(episode=cast.ada_hip).due == before.due + timedelta(3)


def test_moving_on_leaves_the_reassessment_open(revise, plan, cast, now):
    revise(from_phase(plan, 2, now.date() + timedelta(7)), effective_from=now.date() + timedelta(7))
    assert Reassessment.objects.get(episode=cast.ada_hip).status == "open"


def test_a_new_screening_answer_is_asked_about_and_an_old_decision_is_not(revise, plan, program, cast, library, now):
    library.clamshell.precautions.create(condition="dvt", severity="do_not", reason="Not with a clot.")
    Condition.objects.create(client=cast.ada, code="dvt", since=now.date() + timedelta(2))
    later = now + timedelta(2)
    with pytest.raises(Refusal) as refused:
        revise(harder(plan), now=later, effective_from=later.date())
    assert refused.value.code == "contraindicated"
    reason = "Cleared by the vascular team."
    revise(harder(plan), now=later, effective_from=later.date(), override_reason=reason)
    assert newest_revision(program).reason == f"{REASON} {reason}"
    assert revise(plan, now=later, effective_from=later.date(), based_on=2).number == 3


class PowerCut(Exception):
    """Stands for a crash at a statement."""


@pytest.mark.django_db(transaction=True)
def test_a_crash_at_any_statement_leaves_the_old_revision_whole(revise, program, plan):
    crashed = 0
    for nth in range(1, 200):
        seen = 0

        def cut(execute, sql, params, many, context, stop=nth):
            nonlocal seen
            seen += 1
            if seen == stop:
                raise PowerCut
            return execute(sql, params, many, context)

        try:
            with connection.execute_wrapper(cut):
                revise(harder(plan))
        except PowerCut:
            crashed += 1
            assert Revision.objects.count() == 1
            assert (Phase.objects.count(), Item.objects.count()) == (3, 2)
            assert plan_of(newest_revision(program)) == plan
        else:
            break
    assert crashed > 10
    assert plan_of(newest_revision(program)) == harder(plan)


@pytest.mark.django_db(transaction=True)
def test_of_two_changes_at_once_exactly_one_wins(revise, program, plan):
    answers, ready = [], threading.Barrier(2)

    def change(changed):
        try:
            ready.wait()
            answers.append(revise(changed).number)
        except Refusal as refusal:
            answers.append(refusal.code)
        finally:
            connection.close()

    threads = [
        threading.Thread(target=change, args=(changed,))
        for changed in (harder(plan), replace(plan, items=plan.items[:1]))
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(map(str, answers)) == ["2", "changed_meanwhile"]
    assert program.revisions.count() == 2


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE prescribing_revision SET reason = 'other'",
        "UPDATE prescribing_phase SET days_per_week = 1",
        "UPDATE prescribing_item SET priority = 9",
    ],
)
def test_the_database_refuses_to_change_what_was_published(program, sql):
    with pytest.raises((IntegrityError, DatabaseError), match="append-only"), transaction.atomic():
        connection.cursor().execute(sql)
    with transaction.atomic():
        connection.cursor().execute("UPDATE prescribing_program SET title = 'Other title'")
    assert newest_revision(program).reason == "First program"
