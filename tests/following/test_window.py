"""The end of a long history with silences, a pause, a change of plan and morning answers comes to what the whole comes to."""

from dataclasses import replace
from datetime import date, timedelta
from uuid import UUID

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from programs.following import recent
from programs.following.actions.answer_morning import answer_morning
from programs.following.actions.follow_program import follow_program
from programs.following.actions.log_sessions import log_sessions
from programs.following.actions.rebuild_following import rebuild_following
from programs.following.models import ItemLog, MorningAnswer, PhaseRun, SessionLog
from programs.following.rules.adherence import Counted, Tally, tally
from programs.following.rules.course import PauseSpan
from programs.following.rules.earlier import paused_days
from programs.following.rules.entry import SessionEntry
from programs.library.rules.dose import Span
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Pause, Program, Revision
from programs.prescribing.rules.plan import PhasePlan
from tests.following.conftest import BRIDGE, START, hip_plan
from tests.following.test_nothing_by_itself import WORK, forget
from tests.following.test_recent import stored

DAYS = 100
QUICK = settings(
    deadline=None, max_examples=6, phases=(Phase.generate,), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
pain = st.sampled_from([None, 1, 3, 4, 6, 9])
log = st.tuples(st.just("log"), st.integers(0, DAYS), st.integers(0, 1), st.integers(0, 2), pain, st.sampled_from(WORK))
newest = st.tuples(st.just("log"), st.integers(DAYS - 3, DAYS), st.just(7), st.integers(0, 9), pain, st.sampled_from(WORK))
morning = st.tuples(st.just("morning"), st.integers(0, DAYS), st.integers(0, 9))
gap = st.tuples(st.integers(0, DAYS - 12), st.integers(1, 20))


@pytest.fixture
def long(cast, shelf, now):
    """A program by dates, whose bridge went a level up in its seventh week, paused for four days before that."""
    from programs.following.actions.load_rule_set import load_rule_set

    load_rule_set(now=now)
    plan = hip_plan()
    plan = replace(plan, phases=(
        PhasePlan("kick_off", 7, Span(1, 2)), PhasePlan("taper", 40, Span(1, 1), days_per_week=5),
        PhasePlan("maintenance", None, Span(1, 1), days_per_week=4),
    ))
    program = prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip", starts=START, now=now
    )
    items = tuple(replace(item, level=2) if item.key == BRIDGE else item for item in plan.items)
    revise_program(
        by=cast.mina.user, program=program, plan=replace(plan, items=items), effective_from=START + timedelta(days=45),
        reason="Ready", based_on=1, now=now + timedelta(days=44),
    )
    Pause.objects.create(
        program=program, first=START + timedelta(days=30), until=START + timedelta(days=34), reason="Away",
        by=cast.mina.user,
    )
    return program


def told(cast, program, now, gaps, moods):
    """A session on each day that no gap covers, as it would have been stored, and followed through the last day."""
    MorningAnswer.objects.all()._raw_delete(MorningAnswer.objects.db)
    revisions = list(Revision.objects.filter(program=program).order_by("number"))
    kept = [day for day in range(DAYS) if not any(first <= day < first + length for first, length in gaps)]
    saved = SessionLog.objects.bulk_create(
        SessionLog(
            log_id=UUID(int=9500 + day), program=program, revision=revisions[day >= 45], day=START + timedelta(days=day),
            received=now, source="portal", by=cast.ada.user, pain_during=moods[day % len(moods)],
        )
        for day in kept
    )
    ItemLog.objects.bulk_create(
        ItemLog(log=log, item_key=item.item_key, done_left=item.done_left, done_right=item.done_right,
                rating=item.rating, skipped=item.skipped, reps_last_set=item.reps_last_set)
        for place, log in enumerate(saved) for item in WORK[place % 4]
    )
    follow_program(program=program, now=now + timedelta(days=DAYS))


@QUICK
@given(
    st.lists(gap, max_size=3), st.lists(pain, min_size=1, max_size=4),
    st.lists(log | newest | morning, min_size=6, max_size=9),
)
def test_whatever_comes_about_any_day_the_end_is_equal_to_the_whole(cast, long, short, ways, now, gaps, moods, steps):
    """Late logs, edits that move a session, ones sent twice, and mornings, anywhere in a hundred days."""
    forget()
    told(cast, long, now, gaps, moods)
    at, taken = now + timedelta(days=DAYS), dict(ways)
    revision = Revision.objects.filter(program=long).latest("number")
    for kind, day, *values in steps:
        if kind == "morning":
            answer_morning(
                by=cast.ada.user, program=long, answer_id=UUID(int=700 + MorningAnswer.objects.count()),
                day=START + timedelta(days=day), pain=values[0], now=at,
            )
        else:
            number, edit, felt, items = values
            log_sessions(by=cast.ada.user, program=long, now=at, entries=[SessionEntry(
                UUID(int=9000 + 10 * number + day % 3), edit, revision.public_id, START + timedelta(days=day),
                pain_during=felt, items=items,
            )])
        quick = stored()
        follow_program(program=long, now=at)
        assert stored() == quick
    assert ways["recent"] > taken["recent"]
    assert rebuild_following(now=at).differences == []


def test_the_next_day_begins_where_yesterdays_end_left_off(cast, long, now, ways):
    """Nothing is followed between two logs of different days: the days between are worked out with the log."""
    forget()
    told(cast, long, now, [(60, 12)], [1, 2])
    revision = Revision.objects.filter(program=long).latest("number")
    for ahead in (1, 2, 5):
        at = now + timedelta(days=DAYS + ahead)
        taken = ways["recent"]
        log_sessions(by=cast.ada.user, program=long, now=at, entries=[SessionEntry(
            UUID(int=8000 + ahead), 0, revision.public_id, START + timedelta(days=DAYS + ahead), pain_during=2, items=WORK[0]
        )])
        assert ways["recent"] == taken + 1
        quick = stored()
        follow_program(program=long, now=at)
        assert stored() == quick
    assert PhaseRun.objects.filter(program=long, lapsed=True).exists()


def test_what_is_read_of_a_long_program_does_not_grow(cast, long, now, monkeypatch):
    """The rows that one more log reads, after a hundred days and after the three hundredth."""
    forget()
    told(cast, long, now, [], [1, 2])
    revision = Revision.objects.filter(program=long).latest("number")
    counts, original = [], recent.recent_of

    def counted(*args):
        found = original(*args)
        counts.append((len(found.sessions), len(found.held)))
        return found

    monkeypatch.setattr("programs.following.actions.follow_program.recent_of", counted)
    for first in (DAYS, 300):
        SessionLog.objects.bulk_create(
            SessionLog(
                log_id=UUID(int=20_000 + day), program=long, revision=revision, day=START + timedelta(days=day),
                received=now, source="portal", by=cast.ada.user, pain_during=day % 3,
            )
            for day in range(DAYS + 1, first)
        )
        at = now + timedelta(days=first)
        follow_program(program=long, now=at)
        log_sessions(by=cast.ada.user, program=long, now=at, entries=[SessionEntry(
            UUID(int=8000 + first), 0, revision.public_id, START + timedelta(days=first), pain_during=2, items=WORK[0]
        )])
    (sessions, days), (later_sessions, later_days) = counts
    assert sessions == later_sessions == recent.ROWS
    assert abs(days - later_days) <= 7
    assert later_days < 40


spans = st.lists(st.tuples(st.integers(0, 60), st.integers(1, 15) | st.none()), max_size=5)


@given(spans, st.integers(0, 30), st.integers(0, 60))
def test_paused_days_are_counted_once_each(rows, first, length):
    pauses = [
        PauseSpan(START + timedelta(days=begins), None if days is None else START + timedelta(days=begins + days))
        for begins, days in rows
    ]
    begins, until = START + timedelta(days=first), START + timedelta(days=first + length)
    by_hand = sum(any(pause.covers(begins + timedelta(days=back)) for pause in pauses) for back in range(length))
    assert paused_days(pauses, begins, until) == by_hand


counted_days = st.lists(
    st.tuples(st.integers(0, 3), st.floats(0, 1), st.integers(0, 3), st.booleans(), st.integers(0, 900)), max_size=40
)


@given(counted_days, st.integers(0, 40), st.randoms())
def test_a_tally_is_the_same_in_any_order_and_in_parts(rows, cut, dice):
    today = date(2026, 6, 1)
    days = [
        Counted(today - timedelta(days=back), "prescribed", asked, credit, done, logged, 0, 0, least)
        for back, (asked, credit, done, logged, least) in enumerate(rows)
    ]
    whole = tally(days, today)
    shuffled = list(days)
    dice.shuffle(shuffled)
    assert tally(shuffled, today) == whole
    assert tally(days[:cut], today) + tally(days[cut:], today) == whole
    assert whole - tally(days[:cut], today) == tally(days[cut:], today)
    assert Tally.of(whole.days, whole.silent, whole.asked, whole.done, whole.credit, whole.least) == whole


@pytest.mark.parametrize("late", [3, 20, 60])
def test_a_late_log_of_a_program_that_has_ended(cast, long, now, ways, late):
    """The phone came back after the discharge: days and state of the last day still come to what the whole comes to."""
    forget()
    told(cast, long, now, [(40, 9)], [1, 2, 4])
    end_program(by=cast.mina.user, program=long, status="completed", now=now + timedelta(days=DAYS))
    at, taken = now + timedelta(days=DAYS + late), ways["recent"]
    revision = Revision.objects.filter(program=long).latest("number")
    for day in (DAYS - 1, 44):
        log_sessions(by=cast.ada.user, program=long, now=at, entries=[SessionEntry(
            UUID(int=8100 + day), 0, revision.public_id, START + timedelta(days=day), pain_during=3, items=WORK[0]
        )])
        quick = stored()
        follow_program(program=Program.objects.get(pk=long.pk), now=at)
        assert stored() == quick
    assert ways["recent"] > taken
    assert rebuild_following(now=at).differences == []
