from dataclasses import replace
from datetime import date, timedelta
from uuid import UUID

from programs.library.rules.dose import Continuous, Span
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from programs.prescribing.rules.timeline import asked_ribbon, in_force, is_paused, timeline

DAY = date(2026, 3, 2)
WALK = ItemPlan(UUID(int=1), "brisk-walk", 1, Continuous(Span(10, 20)), setup_seconds=0)
PLAN = Plan(DAY, (PhasePlan("kick_off", 7, Span(1, 1)), PhasePlan("maintenance", None, Span(1, 1), 1)), (WALK,))


def test_the_newest_version_whose_day_has_come_counts():
    versions = [(DAY, "one"), (DAY + timedelta(7), "two"), (DAY + timedelta(3), "three")]
    assert in_force(versions, DAY - timedelta(1)) is None
    assert in_force(versions, DAY + timedelta(2)) == "one"
    # a later change that counts sooner takes the place of the one that was waiting, also on its day
    assert in_force(versions, DAY + timedelta(3)) == "three"
    assert in_force(versions, DAY + timedelta(30)) == "three"


def test_a_pause_leaves_the_day_it_ends_on_in():
    pauses = [(DAY, DAY + timedelta(2)), (DAY + timedelta(5), None)]
    assert [is_paused(pauses, DAY + timedelta(n)) for n in range(7)] == [True, True, False, False, False, True, True]


def test_a_revision_changes_the_days_from_its_own_on():
    shorter = replace(PLAN, items=(replace(WALK, dose=Continuous(Span(5, 5))),))
    days = timeline([(DAY, PLAN), (DAY + timedelta(2), shorter)], [], DAY, DAY + timedelta(3))
    assert [day.asked.full_seconds for day in days] == [1200, 1200, 300, 300]


def test_the_ribbon_of_what_is_asked_has_rests_pauses_and_today():
    days = timeline([(DAY, PLAN)], [(DAY + timedelta(1), DAY + timedelta(2))], DAY - timedelta(2), DAY + timedelta(9))
    ribbon = asked_ribbon(days, DAY)
    assert ribbon[0].day == DAY
    assert ribbon[0].today
    assert [day.state for day in ribbon] == ["session", "paused", *["session"] * 6, "rest", "rest"]
    assert all(day.done is None for day in ribbon)
