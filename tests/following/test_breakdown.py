"""How it goes, taken apart: by phase and by exercise, left against right."""

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

from programs.following.rules.adherence import Bands
from programs.following.rules.breakdown import by_item, by_phase
from programs.following.rules.course import Course, EffectivePlan, LoggedSession
from programs.following.rules.entry import ItemEntry
from programs.following.rules.fold import fold
from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan
from tests.following.conftest import BRIDGE, START, STRETCH, done, hip_plan

PHASES = hip_plan().phases


def session(day: int, items) -> LoggedSession:
    return LoggedSession(UUID(int=900 + day), 0, START + timedelta(days=day), 1, None, 1, 4, "", items)


def course(*sessions, phases=PHASES) -> Course:
    return Course(START, None, (EffectivePlan(1, START, replace(hip_plan(), phases=phases)),), sessions=sessions)


def test_each_phase_has_its_own_share_and_interval():
    by_date = (PhasePlan("kick_off", 3, Span(1, 1)), PhasePlan("taper", 7, Span(1, 1)))
    held = course(session(0, done()), session(1, done()), session(4, done()), phases=by_date)
    today = START + timedelta(days=6)
    kick_off, taper = by_phase(fold(held, today, Bands()), today)
    assert (kick_off.kind, kick_off.first, kick_off.last) == ("kick_off", START, START + timedelta(days=2))
    assert (kick_off.done, kick_off.asked, kick_off.share) == (2, 3, 2 / 3)
    assert (taper.kind, taper.done, taper.asked) == ("taper", 1, 3)     # today is not over
    assert 0 < kick_off.low < 2 / 3 < kick_off.high < 1


def test_nothing_counts_yet_on_the_first_day():
    part, = by_phase(fold(course(), START, Bands()), START)
    assert (part.share, part.low, part.asked) == (None, None, 0)


def test_left_against_right_over_all_sessions():
    sides = [session(day, (ItemEntry(STRETCH, done_left=60, done_right=right),)) for day, right in enumerate((60, 20, 10))]
    stretch = by_item(course(*sides))[1]
    assert (stretch.left, stretch.right, stretch.ratio, stretch.uneven) == (180, 90, 2.0, True)
    assert (stretch.sessions, stretch.done) == (3, 3)
    assert round(stretch.credit, 3) == round((1 + (1 + 20 / 30) / 2 + (1 + 10 / 30) / 2) / 3, 3)


def test_one_side_only_has_no_ratio_and_is_uneven():
    stretch = by_item(course(session(0, (ItemEntry(STRETCH, done_left=60),))))[1]
    assert (stretch.ratio, stretch.uneven) == (None, True)


def test_an_exercise_for_both_sides_at_once_has_no_sides():
    bridge = by_item(course(session(0, done())))[0]
    assert (bridge.item_key, bridge.ratio, bridge.uneven, bridge.credit) == (BRIDGE, None, False, 1)


def test_left_out_because_it_hurt_is_counted():
    bridge = by_item(course(session(0, done(skipped="pain")), session(1, done())))[0]
    assert (bridge.sessions, bridge.done, bridge.hurt, bridge.credit) == (2, 1, 1, 0.5)


def test_nothing_logged_and_no_program():
    assert [part.sessions for part in by_item(course())] == [0, 0, 0]
    assert by_item(Course(START, None, ())) == []
