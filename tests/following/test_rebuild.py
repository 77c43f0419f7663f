"""Many programs at once: whatever was taken away or falsified comes back as it was, in as many statements as for one."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from programs.following.actions.log_session import log_session
from programs.following.actions.rebuild_following import rebuild_following
from programs.following.models import DayRecord, ItemRun, PhaseRun, ProgramState, RibbonRow
from programs.following.rules.entry import SessionEntry
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Revision
from tests.following.conftest import START, done, hip_plan

KINDS = (DayRecord, PhaseRun, ItemRun, RibbonRow, ProgramState)
DAY = timedelta(days=1)


@pytest.fixture
def two(cast, program, report, now):
    """Ada's program and Bo's, both with logs."""
    for day in (0, 1, 1, 4):
        report(day, pain_during=day, items=done(share=0.4 + day / 5))
    other = prescribe_program(
        by=cast.theo.user, episode=cast.bo_neck, plan=hip_plan(), title="Neck", starts=START, now=now
    )
    shown = Revision.objects.get(program=other).public_id
    for day in (1, 2):
        entry = SessionEntry(uuid4(), 0, shown, START + day * DAY, items=done(skipped="pain"), pain_during=7)
        log_session(by=cast.bo.user, program=other, entry=entry, now=now + 3 * DAY)
    return program, other


def stored() -> dict[str, list[tuple]]:
    """Every row by kind, without its key."""
    found = {}
    for kind in KINDS:
        names = [field.attname for field in kind._meta.concrete_fields if not field.primary_key]
        found[kind.__name__] = sorted(kind._default_manager.values_list(*names), key=repr)
    return found


def damage(*programs) -> None:
    """Take rows away, put one too many, and falsify some of each kind."""
    mine = {"program__in": programs}
    DayRecord.objects.filter(day=START, **mine).delete()
    DayRecord.objects.filter(day=START + DAY, **mine).update(credit=0.123, pain=None)
    DayRecord.objects.bulk_create(DayRecord(program=each, day=START - DAY, state="rest") for each in programs)
    PhaseRun.objects.filter(**mine).update(days=99)
    ItemRun.objects.filter(number=0, exercise="bridge", **mine).delete()
    RibbonRow.objects.filter(**mine).delete()
    ProgramState.objects.filter(**mine).update(band="low", attention=3, reasons=[])


def test_what_was_lost_and_falsified_comes_back(two, now):
    before = stored()
    damage(*two)
    assert stored() != before
    seen = rebuild_following(now=now)
    assert {line.partition(":")[0] for line in seen.differences} == {str(each.public_id) for each in two}
    assert f"{two[0].public_id}: {START} follows and is not stored" in seen.differences
    assert f"{two[1].public_id}: {START - DAY} is stored and does not follow" in seen.differences
    assert rebuild_following(now=now, write=True).differences == seen.differences
    assert stored() == before
    assert rebuild_following(now=now).differences == []


def test_a_program_that_is_right_is_not_written(two, now):
    damage(two[1])
    keys = [list(kind._default_manager.filter(program=two[0]).values_list("pk", flat=True)) for kind in KINDS]
    rebuild_following(now=now, write=True)
    assert keys == [list(kind._default_manager.filter(program=two[0]).values_list("pk", flat=True)) for kind in KINDS]


def test_the_statements_do_not_grow_with_the_programs(two, now):
    def statements(*programs) -> int:
        RibbonRow.objects.filter(program__in=programs).delete()
        DayRecord.objects.filter(program__in=programs).update(credit=0.5)
        with CaptureQueriesContext(connection) as seen:
            rebuild_following(now=now, write=True)
        return len(seen)

    assert statements(two[0]) == statements(*two)
