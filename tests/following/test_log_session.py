"""Ada logs: once, again, late, early, changed, and with what cannot be used."""

from dataclasses import replace
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, connection, transaction

from clinic.people.models import AuditEvent
from clinic.people.refusal import Refusal
from programs.following.actions.log_session import log_session
from programs.following.models import DayRecord, ItemLog, ProgramState, SessionLog
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Revision
from tests.following.conftest import BRIDGE, ROLL, START, STRETCH, done, hip_plan

LOG = UUID("11111111-2222-4333-8444-555555555555")


def refused(report, *args, **kwargs) -> Refusal:
    before = SessionLog.objects.count(), ItemLog.objects.count()
    with pytest.raises(Refusal) as caught:
        report(*args, **kwargs)
    assert (SessionLog.objects.count(), ItemLog.objects.count()) == before
    return caught.value


def test_day_record_and_state_follow_at_once(program, report):
    outcome = report(0, pain_during=2, effort=4, words="Fine")
    assert (outcome.result, outcome.older_plan) == ("stored", False)
    day = DayRecord.objects.get(program=program, day=START)
    assert (day.logged, day.credit, day.pain, day.effort, day.sessions_done) == (True, 1.0, 2, 4, 1)
    state = ProgramState.objects.get(program=program)
    assert (state.as_of, state.adherence_all, state.last_logged) == (START, 1.0, START)


def test_the_same_log_five_times_is_one(program, report):
    results = [report(0, log_id=LOG).result for _ in range(5)]
    assert results == ["stored", "already", "already", "already", "already"]
    assert SessionLog.objects.count() == 1
    assert AuditEvent.objects.filter(verb="log_session").count() == 1


def test_an_edit_replaces_what_counts_and_keeps_what_was_said(program, report):
    report(0, log_id=LOG, pain_during=7)
    assert report(0, log_id=LOG, edit=1, pain_during=2).result == "edited"
    assert DayRecord.objects.get(day=START).pain == 2
    assert [log.pain_during for log in SessionLog.objects.order_by("edit")] == [7, 2]


def test_an_edit_that_arrives_first_still_counts(program, report):
    report(0, log_id=LOG, edit=1, pain_during=2)
    assert report(0, log_id=LOG, edit=0, pain_during=7).result == "stored"
    assert DayRecord.objects.get(day=START).pain == 2


def test_a_log_that_comes_late_lands_on_its_day(program, report, now):
    report(1, at=now + timedelta(days=9))
    assert DayRecord.objects.get(day=START + timedelta(days=1)).logged
    assert not DayRecord.objects.get(day=START + timedelta(days=2)).logged


def test_a_phone_one_day_ahead_is_believed_two_days_is_not(program, report, now):
    assert report(1, at=now).result == "stored"
    refusal = refused(report, 2, at=now)
    assert (refusal.code, refusal.status) == ("clock_ahead", 400)
    assert refusal.sentence == (
        "The session is dated 4 March 2026, but today is 2 March 2026. Check the date on the phone."
    )


def test_a_day_before_the_program_is_refused(program, report):
    refusal = refused(report, -1)
    assert refusal.code == "before_start"
    assert refusal.fields["day"] == "The session is dated 1 March 2026, but the program starts on 2 March 2026."


def test_the_last_day_may_be_logged_after_the_end_but_no_later_one(cast, program, report, now):
    end_program(by=cast.mina.user, program=program, status="completed", now=now + timedelta(days=2))
    assert report(2, at=now + timedelta(days=4)).result == "stored"
    assert refused(report, 3, at=now + timedelta(days=4)).code == "after_end"


@pytest.mark.parametrize(
    ("answers", "field"),
    [
        ({"pain_during": 11}, "pain_during"), ({"pain_before": -1}, "pain_before"), ({"effort": 12}, "effort"),
        ({"rating": "meh"}, "rating"), ({"words": "x" * 2001}, "words"), ({"words": "a\x00b"}, "words"),
        ({"edit": -1}, "edit"),
        ({"items": (ItemEntry(BRIDGE, 36_001),)}, "items.0.done_left"),
        ({"items": (ItemEntry(BRIDGE), ItemEntry(STRETCH, 0, -5))}, "items.1.done_right"),
        ({"items": (ItemEntry(BRIDGE, reps_last_set=1001),)}, "items.0.reps_last_set"),
        ({"items": (ItemEntry(BRIDGE, skipped="dog"),)}, "items.0.skipped"),
        ({"items": (ItemEntry(BRIDGE), ItemEntry(BRIDGE))}, "items"),
    ],
)
def test_what_cannot_be_used_is_named(program, report, answers, field):
    refusal = refused(report, 0, **answers)
    assert (refusal.code, refusal.status, list(refusal.fields)) == ("invalid", 400, [field])
    assert refusal.fields[field].endswith(".")


def test_an_unknown_item_is_named_by_its_key(program, report):
    refusal = refused(report, 0, items=(*done(), ItemEntry(UUID(int=99), 30)))
    assert refusal.code == "unknown_item"
    assert list(refusal.fields) == ["items.3.item_key"]
    assert str(UUID(int=99)) in refusal.sentence


def test_a_revision_of_another_program_is_refused(cast, program, report, now):
    other = prescribe_program(
        by=cast.theo.user, episode=cast.bo_neck, plan=hip_plan(), title="Neck", starts=START, now=now
    )
    theirs = Revision.objects.get(program=other)
    assert refused(report, 0, revision=theirs).code == "unknown_revision"


def test_a_log_id_of_another_program_is_refused_without_a_word_about_it(cast, program, report, now):
    other = prescribe_program(
        by=cast.theo.user, episode=cast.bo_neck, plan=hip_plan(), title="Neck", starts=START, now=now
    )
    revision = Revision.objects.get(program=other)
    log_session(
        by=cast.bo.user, program=other, now=now, entry=SessionEntry(LOG, 0, revision.public_id, START, items=done())
    )
    refusal = refused(report, 0, log_id=LOG)
    assert (refusal.code, refusal.status) == ("log_id_taken", 409)
    assert "Bo" not in refusal.sentence


@pytest.fixture
def shorter(cast, program, now):
    """Revision 2 from the third day: the roll is gone."""
    plan = replace(hip_plan(), items=tuple(item for item in hip_plan().items if item.key != ROLL))
    return revise_program(
        by=cast.mina.user, program=program, plan=plan, effective_from=START + timedelta(days=2), reason="Less", based_on=1,
        now=now,
    )


def test_a_log_on_the_older_plan_is_kept_and_marked(program, report, shorter):
    first = Revision.objects.get(program=program, number=1)
    outcome = report(3, revision=first)
    assert (outcome.result, outcome.older_plan) == ("stored", True)
    log = SessionLog.objects.get()
    assert (log.revision_id, log.older_plan) == (first.pk, True)
    assert DayRecord.objects.get(day=START + timedelta(days=3)).credit == 1.0   # all of what was shown was done
    assert not report(1, revision=first).older_plan                             # that day it was still the plan


def test_an_item_that_a_newer_revision_dropped_is_accepted_as_history(program, report, shorter):
    assert report(3, revision=shorter, items=done()).result == "stored"
    assert ItemLog.objects.filter(item_key=ROLL).count() == 1


def test_nothing_done_is_a_log_and_not_silence(program, report):
    report(0, items=())
    day = DayRecord.objects.get(day=START)
    assert (day.logged, day.sessions_done, day.credit) == (True, 0, 0.0)


def test_the_days_belong_to_the_clients_zone(cast, program, report, now):
    cast.ada.zone = "Pacific/Auckland"
    cast.ada.save()
    # 13:00 UTC on the second is two in the morning of the third in Auckland
    assert report(2, at=now.replace(hour=13)).result == "stored"
    assert ProgramState.objects.get().as_of == START + timedelta(days=1)


def test_the_database_refuses_a_second_row_and_a_changed_one(program, report):
    report(0, log_id=LOG)
    row = SessionLog.objects.get()
    with pytest.raises(IntegrityError), transaction.atomic():
        SessionLog.objects.create(
            log_id=LOG, edit=0, program=program, revision=row.revision, day=START, received=row.received, source="portal",
            by=row.by,
        )
    with pytest.raises(TypeError):
        SessionLog.objects.filter(pk=row.pk).update(pain_during=1)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE following_sessionlog SET pain_during = 1")
    assert report(0, log_id=uuid4()).result == "stored"


def test_reading_and_folding_takes_the_same_queries_for_one_log_and_for_three(
    program, report, django_assert_num_queries
):
    from programs.following.queries import course_of

    for day in range(2):
        report(day)
    with django_assert_num_queries(QUERIES_OF_A_COURSE):
        course_of(program)
    report(2)
    with django_assert_num_queries(QUERIES_OF_A_COURSE):
        course_of(program)


# revisions, phases, items; pauses; item logs, logs; mornings; alerts
QUERIES_OF_A_COURSE = 8
