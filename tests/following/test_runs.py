"""Phases and levels as rows: equal to the days and sessions they sum up, kept by every action, and proved by the rebuild."""

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from programs.following.actions.rebuild_following import rebuild_following
from programs.following.models import ItemRun, PhaseRun, RibbonRow
from programs.following.queries import ribbon_of
from programs.following.ribbons import AFTER, BEFORE, ribbon_days
from programs.following.rules import adherence
from programs.following.rules.adherence import Bands
from programs.following.rules.breakdown import by_item, by_phase
from programs.following.rules.course import Course, EffectivePlan, LoggedSession
from programs.following.rules.entry import ItemEntry
from programs.following.rules.fold import fold
from programs.following.rules.runs import SKIPS, item_runs, phase_runs
from programs.following.rules.survival import followed
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.queries import plan_of
from tests.following.conftest import BRIDGE, ROLL, START, STRETCH, done, hip_plan

DAY = timedelta(days=1)
EASY = hip_plan()


def at_level(level: int, keys=(BRIDGE, STRETCH, ROLL)):
    return replace(EASY, items=tuple(
        replace(item, level=level if item.key == BRIDGE else 1) for item in EASY.items if item.key in keys
    ))


def sessions(*given_days) -> tuple[LoggedSession, ...]:
    return tuple(
        LoggedSession(UUID(int=number), 0, START + day * DAY, shown, None, None, None, "", items)
        for number, (day, shown, items) in enumerate(given_days, start=1)
    )


def test_a_level_is_one_run_through_revisions_until_another_comes_in():
    plans = (
        EffectivePlan(1, START, at_level(1)), EffectivePlan(2, START + 5 * DAY, at_level(1)),
        EffectivePlan(3, START + 9 * DAY, at_level(2)), EffectivePlan(4, START + 20 * DAY, at_level(2, (BRIDGE, STRETCH))),
    )
    held = sessions((0, 1, done()), (6, 2, done()), (10, 3, done(skipped="pain")), (12, 3, (ItemEntry(BRIDGE, 80),)))
    runs = item_runs(Course(START, None, plans, sessions=held))
    assert [(run.item_key, run.number, run.level, run.first, run.until) for run in runs] == [
        (BRIDGE, 0, 1, START, START + 9 * DAY), (STRETCH, 0, 1, START, None), (ROLL, 0, 1, START, START + 20 * DAY),
        (BRIDGE, 1, 2, START + 9 * DAY, None),
    ]
    easy, stretch, _, harder = runs
    assert (easy.sessions, easy.done, easy.credit) == (2, 2, 2.0)
    assert (harder.sessions, harder.done, harder.skipped["pain"]) == (2, 1, 1)
    assert (stretch.sessions, stretch.done, stretch.left, stretch.right) == (4, 3, 180, 180)


def test_a_revision_that_never_came_into_force_has_no_run():
    plans = (
        EffectivePlan(1, START, at_level(1)), EffectivePlan(2, START + 9 * DAY, at_level(3)),
        EffectivePlan(3, START + 9 * DAY, at_level(2)),
    )
    runs = [run for run in item_runs(Course(START, None, plans)) if run.item_key == BRIDGE]
    assert [(run.level, run.until) for run in runs] == [(1, START + 9 * DAY), (2, None)]


DAYS = st.lists(st.tuples(st.integers(0, 40), st.sampled_from((0.0, 0.5, 1.0)), st.sampled_from(("", *SKIPS))), max_size=30)


@settings(max_examples=30)
@given(DAYS, st.integers(0, 45))
def test_rows_add_up_to_what_the_days_and_the_sessions_say(logged, ahead):
    course = Course(
        START, None, (EffectivePlan(1, START, EASY),),
        sessions=sessions(*((day, 1, done(share=share, skipped=skip)) for day, share, skip in logged)),
    )
    today = START + ahead * DAY
    folded = fold(course, today, Bands())
    runs = phase_runs(folded, today, 7)
    assert [(run.kind, run.first, run.last, run.done, run.asked) for run in runs] == [
        (part.kind, part.first, part.last, part.done, part.asked) for part in by_phase(folded, today)
    ]
    for run in runs:
        on = followed((day for day in folded.counted if day.day >= run.first), today, 7)
        assert (run.kept, run.lapsed) == ((on.day, on.dropped_out) if on else (0, False))
    total = sum(run.asked for run in runs)
    whole = adherence.share(folded.counted, today)
    assert (sum(run.credit for run in runs) / total if total else None) == pytest.approx(whole)
    parts = by_item(course)
    assert [(run.sessions, run.done, run.skipped["pain"], run.left, run.right) for run in item_runs(course)] == [
        (part.sessions, part.done, part.hurt, part.left, part.right) for part in parts
    ]
    for run, part in zip(item_runs(course), parts, strict=True):
        assert run.credit == pytest.approx(part.credit * part.sessions)


def test_every_log_and_revision_keeps_them_and_the_rebuild_proves_it(cast, program, report, now):
    report(0)
    report(1, items=done(skipped="no_time"))
    revision = program.revisions.latest("number")
    harder = replace(plan_of(revision), items=at_level(2).items)
    revise_program(
        by=cast.mina.user, program=program, plan=harder, effective_from=START + 3 * DAY, reason="Ready", based_on=1,
        now=now + 3 * DAY,
    )
    bridge = ItemRun.objects.filter(program=program, item_key=BRIDGE).order_by("number")
    assert [(run.level, run.first, run.until, run.sessions, run.no_time) for run in bridge] == [
        (1, START, START + 3 * DAY, 2, 1), (2, START + 3 * DAY, None, 0, 0),
    ]
    assert PhaseRun.objects.get(program=program).asked == 3
    drawn = RibbonRow.objects.get(program=program)
    today = START + 3 * DAY
    program.refresh_from_db()
    assert list(ribbon_days(drawn.days)) == ribbon_of(program, today - BEFORE * DAY, today + AFTER * DAY, today)
    assert rebuild_following(now=now + 3 * DAY).differences == []
    ItemRun.objects.filter(item_key=BRIDGE, number=0).update(sessions=9)
    RibbonRow.objects.update(days="[]")
    PhaseRun.objects.all().delete()
    assert rebuild_following(now=now + 3 * DAY, write=True).differences == [
        f"{program.public_id}: {what}" for what in ("phases differ", "levels differ", "ribbon differs")
    ]
    assert rebuild_following(now=now + 3 * DAY).differences == []
