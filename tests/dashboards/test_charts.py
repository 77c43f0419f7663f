"""The rows behind the charts: numbers equal to the lists and rules they come from, in a fixed number of queries."""

from collections import Counter
from datetime import date, timedelta

import pytest

from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.queries import overdue_list, reassessments_for
from dashboards.read_models import adherence, overdue
from dashboards.read_models.progression import all_items, item_rows, ladder, phases, progression, stuck_runs
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import DayRecord
from programs.following.rules import adherence as rules
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.revise_program import revise_program
from tests.dashboards.logs import log_days
from tests.following.conftest import START, done, hip_plan

WEEK = timedelta(weeks=1)


def lines(user):
    return adherence.lines_of(adherence.programs(user))


def reviews(user, today, clinician=None):
    return overdue.rows_of(overdue.overdue(user, today, clinician), today)


def week_rows(user, today, count=3):
    return adherence.rows_of(lines(user), adherence.weeks(today, count), today)


def test_a_week_is_what_the_rule_says_of_its_days(cast, program, report, later):
    for day, share in enumerate((1.0, 0.5, 0.25)):
        report(day, items=done(share=share))
    follow_programs(now=later(9))
    today = later(9).date()
    [row] = week_rows(cast.mina.user, today)
    for cell, monday in zip(row.cells, adherence.weeks(today, 3), strict=True):
        days = [
            rules.Counted(
                day.day, day.state, day.prescribed_sessions, day.credit, day.sessions_done, day.logged, day.done_seconds,
                day.prescribed_full,
            )
            for day in DayRecord.objects.filter(program=program, day__gte=monday, day__lt=monday + WEEK)
        ]
        assert (cell.done, cell.asked) == rules.sessions(days, today)
        if cell.share is not None:
            assert cell.share == pytest.approx(rules.share(days, today))


def test_four_ways_of_having_no_share(cast, program, report, later):
    report(0, items=())                                                     # logged, nothing done
    pause_program(by=cast.mina.user, program=program, reason="Away", now=later(14))
    follow_programs(now=later(21))
    [row] = week_rows(cast.mina.user, later(21).date(), 5)
    assert [cell.kind for cell in row.cells] == ["nothing", "zero", "silent", "paused", "paused"]
    assert (row.cells[1].share, row.cells[1].asked, row.cells[1].silent_days) == (0.0, 7, 6)
    assert (row.cells[2].share, row.cells[2].silent_days) == (None, 7)
    assert row.line.phase == "paused"


def test_silent_programs_come_first_and_phases_add_up(cast, program, give, later):
    log_days(program, 6)
    give("Cy")
    follow_programs(now=later(6))
    found = lines(cast.lead.user)
    assert [(line.client, line.band) for line in found] == [("Cy Reed", "silent"), ("Ada Quill", "on_track")]
    assert phases(cast.lead.user) == Counter((line.phase, line.band) for line in found)
    assert phases(cast.lead.user) == {("kick_off", "silent"): 1, ("kick_off", "on_track"): 1}
    assert lines(cast.theo.user) == lines(cast.desk.user) == []


@pytest.mark.parametrize("count", [1, 3])
def test_charts_take_a_fixed_number_of_queries(cast, program, give, later, count, django_assert_num_queries):
    for index in range(count - 1):
        give(f"Client{index}")
    follow_programs(now=later(20))
    today = later(20).date()
    with django_assert_num_queries(1):
        found = lines(cast.mina.user)
    with django_assert_num_queries(1):
        assert len(adherence.rows_of(found, adherence.weeks(today), today)) == count
    with django_assert_num_queries(1):
        assert len(reviews(cast.mina.user, today)) == count
    with django_assert_num_queries(1):
        overdue.coming(cast.mina.user, today)
    with django_assert_num_queries(3):
        assert len(all_items(cast.mina.user, later(20).date())) == 3 * count


def test_the_overdue_chart_counts_what_the_list_lists(cast, program, give, later):
    give("Cy")
    give("Flo", lead=cast.theo)
    today = later(20).date()
    for user, number in ((cast.lead.user, 3), (cast.mina.user, 2), (cast.theo.user, 1), (cast.ada.user, 1)):
        rows = reviews(user, today)
        counts = overdue.counted(user, today)
        assert counts.by_clinician == Counter((row.clinician, row.age) for row in rows)
        assert counts.by_reason == Counter((row.reason, row.age) for row in rows)
        assert counts.longest == max(row.days for row in rows)
        assert len(rows) == overdue_list(user, today, "overdue").count() == number
    rows = reviews(cast.lead.user, today, cast.theo)
    assert [(row.client, row.clinician) for row in rows] == [("Flo Reed", "Theo")]


@pytest.mark.parametrize(("days", "age"), [(1, 0), (7, 0), (8, 1), (14, 1), (15, 2), (28, 2), (29, 3), (400, 3)])
def test_the_age_of_a_review_has_neighbours(cast, program, days, age):
    due = reassessments_for(cast.mina.user).get().due
    [row] = reviews(cast.mina.user, due + timedelta(days=days))
    assert (row.days, row.age) == (days, age)
    assert overdue.counted(cast.mina.user, due + timedelta(days=days)).by_reason == {(row.reason, age): 1}


def test_what_comes_due_is_counted_once_in_its_week(cast, program, give, now):
    give("Cy")
    ada, cy = reassessments_for(cast.mina.user)
    day = ada.earliest + timedelta(days=(7 - ada.earliest.weekday()) % 7)   # a Monday in or after the window
    start = now + (day - now.date())
    book_reassessment(by=cast.mina.user, reassessment=ada, clinician=cast.mina, start=start, now=now, visit_type=cast.review)
    weeks = overdue.coming(cast.mina.user, now.date())
    assert sum(week.booked for week in weeks) == sum(week.unbooked for week in weeks) == 1
    due_week = next(week for week in weeks if week.unbooked)
    assert due_week.monday <= cy.due < due_week.monday + WEEK
    assert overdue.coming(cast.mina.user, cy.due + timedelta(days=1))[0].unbooked == 0


def test_time_at_a_level_goes_on_through_a_revision_that_keeps_it(cast, program, later):
    plan = hip_plan()
    harder = plan.items[0].__class__(**{
        **{name: getattr(plan.items[0], name) for name in plan.items[0].__slots__}, "level": 2,
    })
    changed = plan.__class__(plan.anchor, plan.phases, (harder, *plan.items[1:]))
    revise_program(
        by=cast.mina.user, program=program, plan=changed, effective_from=START + timedelta(days=10), reason="Ready",
        based_on=1, now=later(9),
    )
    before = {row.exercise: (row.level, row.days) for row in all_items(cast.mina.user, later(9).date())}
    after = {row.exercise: (row.level, row.levels, row.days) for row in all_items(cast.mina.user, later(12).date())}
    assert before["Bridge"] == (1, 9)                      # the new revision does not count yet
    assert after == {"Bridge": (2, 3, 2), "Hip stretch": (1, 1, 12), "Roll thigh": (1, 1, 12)}


def stuck(user, today):
    """The rows that the query finds, held against the rows that say so of themselves."""
    names, levels = ladder()
    found = item_rows(stuck_runs(user, today, levels), today, names, levels)
    assert found == [row for row in all_items(user, today) if row.stuck]
    return found


def test_standing_still_needs_time_a_harder_level_and_no_pause(cast, program, later):
    assert stuck(cast.mina.user, later(27).date()) == []
    [row] = stuck(cast.mina.user, later(28).date())
    assert (row.exercise, row.level, row.levels, row.since) == ("Bridge", 1, 3, date(2026, 3, 2))
    pause_program(by=cast.mina.user, program=program, reason="Away", now=later(28))
    assert stuck(cast.mina.user, later(28).date()) == []
    assert progression(cast.mina.user, later(28).date()).phases == {"paused": 1}


def test_levels_add_up_to_the_exercises(cast, program, give, later):
    give("Cy")
    for day in (3, 13, 14, 27, 28, 41, 42, 100):
        today = later(day).date()
        items = all_items(cast.mina.user, today)
        assert progression(cast.mina.user, today).levels == Counter((row.level, row.time) for row in items)
        assert len(items) == 6
    assert all_items(cast.mina.user, later(-1).date()) == []       # not in force before its first day
