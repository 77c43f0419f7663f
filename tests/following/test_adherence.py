"""Credits, windows, bands: worked by hand."""

from datetime import date, timedelta
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.following.rules import adherence
from programs.following.rules.adherence import Bands, Counted
from programs.following.rules.entry import ItemEntry
from programs.library.rules.dose import Hold, Reps, Span
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from tests.following.conftest import BRIDGE, ROLL, START, STRETCH, done, hip_plan

BANDS = Bands()
TODAY = date(2026, 3, 9)


def day(ago: int, *, asked=1, credit=0.0, sessions=0, logged=False, state="prescribed", seconds=0, full=600) -> Counted:
    return Counted(TODAY - timedelta(days=ago), state, asked, credit, sessions, logged, seconds, full)


def item(side: str) -> ItemPlan:
    return ItemPlan(UUID(int=1), "x", 1, Hold(Span(2, 4), Span(30, 30)), side)   # the least: 60 s a side


@pytest.mark.parametrize(
    ("side", "left", "right", "credit"),
    [
        ("both", 60, 0, 1.0), ("both", 30, 0, 0.5), ("both", 120, 0, 1.0),
        ("each", 60, 60, 1.0), ("each", 60, 0, 0.5), ("each", 600, 30, 0.75),    # more on one side does not make up
        ("left", 30, 60, 0.5), ("right", 60, 30, 0.5), ("alternating", 30, 30, 1.0),
    ],
)
def test_an_item_is_credited_per_side(side, left, right, credit):
    assert adherence.item_credit(item(side), ItemEntry(UUID(int=1), left, right)) == credit


def test_an_item_nobody_answered_has_no_credit():
    assert adherence.item_credit(item("both"), None) == 0


def test_a_session_is_weighted_by_prescribed_seconds():
    long = ItemPlan(UUID(int=1), "a", 1, Reps(Span(1, 1), Span(20, 20), tempo=4), setup_seconds=20)     # 100 s
    short = ItemPlan(UUID(int=2), "b", 1, Reps(Span(1, 1), Span(5, 5), tempo=4), setup_seconds=5)       # 25 s
    plan = Plan(START, (PhasePlan("kick_off", 7, Span(1, 1)),), (long, short))
    assert adherence.session_credit(plan, {long.key: ItemEntry(long.key, 80)}) == pytest.approx(0.8)
    assert adherence.session_credit(plan, {short.key: ItemEntry(short.key, 20)}) == pytest.approx(0.2)


def test_a_session_done_at_the_least_takes_the_seconds_that_were_asked_for_at_least():
    plan = hip_plan()
    entries = {
        BRIDGE: ItemEntry(BRIDGE, 32), STRETCH: ItemEntry(STRETCH, 30, 30), ROLL: ItemEntry(ROLL, 45),
    }
    assert adherence.session_seconds(plan, entries) == plan.session_seconds("minimum")


@pytest.mark.parametrize(("credits", "asked", "credit"), [([1], 2, 0.5), ([1, 1, 1], 2, 1), ([0.5, 0.5], 1, 1), ([1], 0, 0)])
def test_a_day_is_at_most_whole(credits, asked, credit):
    assert adherence.day_credit(credits, asked) == credit


def test_the_share_counts_past_days_and_today_only_once_it_is_logged():
    week = [day(2, credit=1, logged=True), day(1), day(0)]
    assert adherence.share(week, TODAY) == 0.5
    assert adherence.share([*week[:2], day(0, credit=1, logged=True)], TODAY) == pytest.approx(2 / 3)
    assert adherence.share([*week, day(-1)], TODAY) == 0.5   # tomorrow is not counted


def test_paused_and_rest_days_leave_the_denominator():
    week = [day(3, credit=1, logged=True), day(2, asked=0, state="paused"), day(1, asked=0, state="rest")]
    assert adherence.share(week, TODAY) == 1
    assert adherence.share([day(1, asked=0, state="paused")], TODAY) is None


def test_extra_sessions_do_not_make_up_for_missed_ones():
    assert adherence.sessions([day(2, sessions=3, logged=True), day(1)], TODAY) == (1, 2)


def test_overdose_is_not_capped():
    assert adherence.overdose([day(1, seconds=1200, logged=True), day(2, seconds=600, logged=True)], TODAY) == 1.5
    assert adherence.overdose([], TODAY) is None


def test_silence_begins_with_a_day_that_asked_for_something():
    kick_off = [day(4, logged=True), day(3), day(2), day(1), day(0)]
    assert adherence.silence(kick_off, TODAY) == (3, TODAY - timedelta(days=3))
    tapered = [day(4, logged=True), day(3, asked=0, state="rest"), day(2), day(1, asked=0, state="rest"), day(0)]
    assert adherence.silence(tapered, TODAY) == (2, TODAY - timedelta(days=2))


def test_a_day_logged_as_not_done_is_not_silent_and_paused_days_are_left_out():
    assert adherence.silence([day(2), day(1, logged=True, credit=0)], TODAY) == (0, None)
    assert adherence.silence([day(3), day(2, state="paused", asked=0), day(1)], TODAY) == (2, TODAY - timedelta(days=3))


@pytest.mark.parametrize(
    ("recent", "silent", "kick_off", "word"),
    [
        (0.8, 0, True, "on_track"), (0.7999, 0, True, "partly"), (0.5, 0, True, "partly"), (0.4999, 0, True, "low"),
        (1.0, 2, True, "on_track"), (1.0, 3, True, "silent"), (1.0, 6, False, "on_track"), (1.0, 7, False, "silent"),
        (None, 0, True, "new"),
    ],
)
def test_bands_begin_where_the_rule_set_says(recent, silent, kick_off, word):
    assert adherence.band(
        recent=recent, silent_days=silent, kick_off=kick_off, paused=False, counted_days=7, bands=BANDS
    ) == word


def test_one_day_is_too_early_to_say_and_a_pause_outranks_silence():
    assert adherence.band(recent=1, silent_days=0, kick_off=True, paused=False, counted_days=1, bands=BANDS) == "new"
    assert adherence.band(recent=0, silent_days=9, kick_off=True, paused=True, counted_days=9, bands=BANDS) == "paused"


def test_left_over_right():
    assert adherence.left_over_right(item("each"), ItemEntry(UUID(int=1), 30, 60)) == 0.5
    assert adherence.left_over_right(item("each"), ItemEntry(UUID(int=1), 30, 0)) is None
    assert adherence.left_over_right(item("both"), ItemEntry(UUID(int=1), 30, 60)) is None


def test_the_whole_dose_is_a_whole_credit():
    plan = hip_plan()
    assert adherence.session_credit(plan, {entry.item_key: entry for entry in done()}) == pytest.approx(1)
    assert adherence.session_credit(plan, {}) == 0


sides = st.sampled_from(["both", "each", "alternating", "left", "right"])
seconds = st.integers(0, 4000)
made_items = st.lists(st.tuples(sides, st.integers(1, 5), st.integers(5, 90), st.integers(0, 60)), min_size=1, max_size=6)


@given(made_items, st.lists(st.tuples(st.integers(0, 6), seconds, seconds), max_size=6, unique_by=lambda row: row[0]))
def test_a_plan_weighed_once_is_the_weighted_mean_of_its_items_credits(items, done):
    plan = Plan(date(2026, 3, 2), (PhasePlan("maintenance", None, Span(1, 1)),), tuple(
        ItemPlan(UUID(int=place), "x", 1, Hold(Span(1, holds), Span(hold, hold)), side, Span(1, 1), setup)
        for place, (side, holds, hold, setup) in enumerate(items)
    ))
    entries = {UUID(int=place): ItemEntry(UUID(int=place), left, right) for place, left, right in done}
    weighed = adherence.weighed(plan)
    weights = [item.seconds("minimum") for item in plan.items]
    credits = [adherence.item_credit(item, entries.get(item.key)) for item in plan.items]
    mean = sum(weight * credit for weight, credit in zip(weights, credits, strict=True)) / sum(weights)
    credit, took = adherence.weighed_session(weighed, entries)
    assert credit == pytest.approx(mean, abs=1e-12)
    begun = [item for item in plan.items if (entry := entries.get(item.key)) and (entry.done_left or entry.done_right)]
    assert took == sum(left + right for _, left, right in done) + sum(
        item.seconds("minimum") - item.work("minimum") for item in begun
    )
    for each in weighed:
        if each.item.key in entries:
            entry = entries[each.item.key]
            assert adherence.weighed_credit(each, entry) == adherence.item_credit(each.item, entry)
