"""State is a fold over records: in any order of arrival, with edits, pauses, revisions and an end."""

from dataclasses import replace
from datetime import date, timedelta
from uuid import UUID

from hypothesis import given, settings
from hypothesis import strategies as st

from programs.following.rules.adherence import Bands
from programs.following.rules.course import Course, EffectivePlan, LoggedSession, Morning, PauseSpan
from programs.following.rules.fold import fold
from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan
from tests.following.conftest import BRIDGE, START, done, hip_plan

BANDS = Bands()
ONE = (EffectivePlan(1, START, hip_plan()),)


def on(day: int) -> date:
    return START + timedelta(days=day)


def session(day: int, log: int = 0, edit: int = 0, share: float = 1.0, shown: int = 1, pain: int | None = 1) -> LoggedSession:
    return LoggedSession(UUID(int=1000 + 10 * day + log), edit, on(day), shown, None, pain, 5, "", done(share=share))


def course(**parts) -> Course:
    return Course(START, None, parts.pop("plans", ONE), **parts)


def test_each_day_from_the_first_through_today_is_there():
    folded = fold(course(sessions=(session(0), session(2))), on(3), BANDS)
    assert [day.day for day in folded.days] == [on(0), on(1), on(2), on(3)]
    assert [day.logged for day in folded.days] == [True, False, True, False]
    assert [day.credit for day in folded.days] == [1, 0, 1, 0]
    assert folded.state.adherence_all == 2 / 3   # today has not been logged


def test_the_highest_edit_counts_and_may_move_the_day():
    moved = replace(session(0, edit=1), day=on(1))
    folded = fold(course(sessions=(session(0), moved)), on(1), BANDS)
    assert [day.logged for day in folded.days] == [False, True]


def test_a_paused_day_asks_for_nothing():
    folded = fold(course(pauses=(PauseSpan(on(1), on(3)),)), on(3), BANDS)
    assert [day.state for day in folded.days] == ["prescribed", "paused", "paused", "prescribed"]
    assert [day.prescribed_sessions for day in folded.days] == [1, 0, 0, 1]
    assert fold(course(pauses=(PauseSpan(on(1), None),)), on(9), BANDS).state.band == "paused"


def test_a_session_is_held_against_the_plan_that_was_shown():
    shorter = replace(hip_plan(), items=hip_plan().items[:1])
    plans = (*ONE, EffectivePlan(2, on(1), shorter))
    bridge_only = replace(session(1, shown=2), items=done(keys=(BRIDGE,)))
    assert fold(course(plans=plans, sessions=(bridge_only,)), on(1), BANDS).days[1].credit == 1
    assert fold(course(plans=plans, sessions=(replace(bridge_only, shown=1),)), on(1), BANDS).days[1].credit < 0.5


def test_a_revision_counts_from_its_day_and_history_stays():
    daily = PhasePlan("maintenance", None, Span(3, 3))
    plans = (*ONE, EffectivePlan(2, on(2), replace(hip_plan(on(2)), phases=(daily,))))
    folded = fold(course(plans=plans), on(3), BANDS)
    assert [day.prescribed_sessions for day in folded.days] == [1, 1, 3, 3]
    assert [day.phase_kind for day in folded.days] == ["kick_off", "kick_off", "maintenance", "maintenance"]


def test_a_program_that_ended_has_no_day_after_it():
    assert fold(replace(course(), ended=on(2)), on(9), BANDS).days[-1].day == on(2)


def test_a_program_that_has_not_begun_is_new():
    folded = fold(course(), START - timedelta(days=3), BANDS)
    assert folded.days == ()
    assert (folded.state.band, folded.state.adherence_all) == ("new", None)


def test_the_newest_morning_of_a_day_counts():
    mornings = (Morning(on(0), 6, 2), Morning(on(0), 1, 1))
    assert fold(course(mornings=mornings), on(1), BANDS).days[0].pain_next_morning == 6


def test_the_phase_window_begins_with_the_phase():
    sessions = tuple(session(day) for day in range(8, 10))
    plans = (EffectivePlan(1, START, replace(hip_plan(), phases=(
        PhasePlan("kick_off", 7, Span(1, 1)), PhasePlan("taper", 14, Span(1, 1)),
    ))),)
    state = fold(course(plans=plans, sessions=sessions), on(9), BANDS).state
    assert (state.phase_number, state.phase_kind) == (2, "taper")
    assert state.adherence_phase == 2 / 3
    assert state.adherence_all == 2 / 10
    assert (state.sessions_done, state.sessions_prescribed) == (2, 10)


def test_attention_names_its_reasons_largest_first():
    sessions = tuple(session(day, share=0.2, pain=8) for day in range(5))
    state = fold(course(sessions=sessions, open_alerts=1), on(4), BANDS).state
    assert [reason["code"] for reason in state.reasons] == ["red_flag", "pain", "low"]
    assert state.attention == sum(reason["points"] for reason in state.reasons)


reports = st.builds(
    session, day=st.integers(0, 9), log=st.integers(0, 3), edit=st.integers(0, 2),
    share=st.sampled_from([0.0, 0.25, 0.5, 1.0, 2.0]), pain=st.one_of(st.none(), st.integers(0, 10)),
)


@settings(deadline=None, max_examples=60)   # a busy machine is not a fault
@given(st.lists(reports, max_size=14, unique_by=lambda row: (row.log_id, row.edit)), st.randoms())
def test_order_of_arrival_never_matters(sessions, dice):
    shuffled = list(sessions)
    dice.shuffle(shuffled)
    straight = fold(course(sessions=tuple(sessions)), on(9), BANDS)
    assert fold(course(sessions=tuple(shuffled)), on(9), BANDS) == straight
    assert all(0 <= day.credit <= 1 for day in straight.days)
    assert 0 <= straight.state.sessions_done <= straight.state.sessions_prescribed
