"""Phases and levels over time, decisions, and how long a taper holds: recounted from days, revisions and suggestions."""

from collections import Counter
from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine

from dashboards.figures import progression as figures
from dashboards.read_models import progression as model
from dashboards.read_models.rows import Decided, MonthRow
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import DayRecord, ProgramState, Suggestion
from programs.following.rules.survival import Followed, followed, kaplan_meier
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Item, Revision
from programs.prescribing.queries import plan_of
from tests.dashboards.logs import log_days
from tests.following.conftest import START

WORDS = {"contact": "Contact", "progress": "Progress"}


@pytest.fixture
def tapered(cast, program, give, later):
    """Ada and Cy went on to the taper on day 8, Ada with a harder bridge; Cy fell silent after 12 days; Flo is Theo's."""
    cy, flo = give("Cy"), give("Flo", lead=cast.theo)
    for one, days in ((program, 10), (cy, 12), (flo, 3)):
        log_days(one, 8)
        if one is not flo:
            plan = plan_of(one.revisions.latest("number"))
            harder = "bridge" if one is program else ""
            items = tuple(replace(item, level=2) if item.exercise == harder else item for item in plan.items)
            revise_program(
                by=cast.mina.user, program=one, plan=replace(plan, anchor=START + timedelta(days=8), phases=plan.phases[1:],
                items=items), effective_from=START + timedelta(days=8), reason="On", based_on=1, now=later(8),
            )
            log_days(one, days)
    follow_programs(now=later(60))
    return program, cy, flo


def test_phases_and_levels_of_each_month_are_those_of_the_days_and_revisions(cast, tapered, later):
    today = later(60).date()
    kinds, levels = model.over_time(cast.mina.user, today)
    ends = model.month_ends(today)
    assert (ends[-1], ends[-2], len(ends)) == (today, today.replace(day=1) - timedelta(days=1), model.MONTHS)
    for place, day in enumerate(ends):
        phases = Counter(
            row.phase_kind for row in DayRecord.objects.filter(program__in=tapered[:2], day=day) if row.phase_kind
        )
        assert {row.name: row.counts[place] for row in kinds if row.counts[place]} == phases
        at = Counter()
        for program in tapered[:2]:
            held = Revision.objects.filter(program=program, effective_from__lte=day).order_by("number").last()
            at.update(str(item.level.number) for item in Item.objects.filter(revision=held).select_related("level"))
        assert {row.name: row.counts[place] for row in levels if row.counts[place]} == at
    assert model.over_time(cast.desk.user, today) == ([], [])


def test_how_long_a_taper_holds_is_what_its_days_say(cast, tapered, later):
    expected = []
    for program in tapered[:2]:
        days = [
            day for day in DayRecord.objects.filter(program=program).order_by("day")
            if day.day >= START + timedelta(days=8)
        ]
        counted = [
            figures_day(day) for day in days
        ]
        expected.append(followed(counted, later(60).date(), 7))
    assert sorted(model.since_taper(cast.mina.user), key=str) == sorted(expected, key=str)
    assert all(one.dropped_out for one in expected)
    assert model.reached(cast.mina.user) == (2, 2)
    assert model.since_taper(cast.theo.user) == []


def figures_day(day):
    from programs.following.rules.adherence import Counted

    return Counted(
        day.day, day.state, day.prescribed_sessions, day.credit, day.sessions_done, day.logged, day.done_seconds,
        day.prescribed_full,
    )


def test_decisions_are_counted_by_kind_and_outcome(cast, tapered):
    mine = Suggestion.objects.filter(program__in=tapered[:2])
    found = model.decided(cast.mina.user)
    assert sum(row.open + row.answered + row.outdated for row in found) == mine.count() > 0
    first = mine.filter(state="open").first()
    Suggestion.objects.filter(pk=first.pk).update(state="declined", decided_at=first.made)
    assert sum(row.declined for row in model.decided(cast.mina.user)) == 1
    assert model.decided(cast.desk.user) == []


def test_what_may_hold_an_exercise_up(cast, tapered, later):
    names, levels = model.ladder()
    today = later(60).date()

    def why():
        runs = list(model.stuck_runs(cast.mina.user, today, levels))
        return [row.why for row in model.with_why(runs, model.item_rows(runs, today, names, levels))]

    assert set(why()) == {"silent"}
    ProgramState.objects.update(band="on_track", pain_last=7)
    assert set(why()) == {"pain"}
    ProgramState.objects.update(pain_last=2)
    assert set(why()) == {"quiet"}
    assert set(figures.WHY) >= {"waits", "declined", "pain", "silent", "low", "quiet"}


def test_the_figures_hold_the_rows():
    rows = [MonthRow("taper", (0, 2)), MonthRow("kick_off", (3, 1)), MonthRow("maintenance", (0, 0))]
    days = [START, START + timedelta(days=30)]
    fig = figures.over_time(rows, days, levels=False)
    assert [(trace.name, list(trace.y)) for trace in fig.data] == [("Kick-off", [3, 1]), ("Taper", [0, 2])]
    assert fig.layout.title.text == "2 of 3 programs are in taper today"
    fig = figures.over_time([MonthRow("1", (3, 1)), MonthRow("2", (0, 2))], days, levels=True)
    assert fig.layout.title.text == "2 of 3 exercises are past level 1 today"
    assert figures.over_time([], days, levels=True).data == ()
    fig = figures.decisions([Decided("progress", 1, 6, 1, 3, 2), Decided("contact", 0, 0, 0, 0, 1)], WORDS)
    assert {trace.name: list(trace.x) for trace in fig.data} == {
        "Accepted": [6, 0], "Altered": [1, 0], "Declined": [3, 0], "Waiting": [1, 0], "Outdated": [2, 1],
    }
    assert fig.layout.title.text == "7 of 10 decided suggestions accepted or altered (95 % interval 40 to 89 %)"
    assert figures.decisions_title([Decided("progress", 2, 0, 0, 0, 0)]) == "2 suggestions waiting, none decided yet"
    people = [Followed(3, True), Followed(5, False), Followed(9, True), Followed(9, False)]
    steps = kaplan_meier(people)
    curve = figures.taper_curve(steps, 4, 6, 2)
    assert list(curve.data[2].x) == [0, 3, 9]
    assert list(curve.data[2].y) == pytest.approx([100, 75, 37.5])
    assert [people for people, _, _ in curve.data[2].customdata] == [4, 4, 2]
    assert curve.layout.title.text == "2 of 6 tapered programs came to maintenance; half have lapsed 9 days after it began"
    assert figures.taper_curve((), 0, 0, 0).data == ()


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_takes_as_many_queries_for_three_as_for_one(
    cast, program, give, browse, later, count, django_assert_num_queries
):
    for index in range(count - 1):
        give(f"Client{index}")
    follow_programs(now=later(40))
    browser = browse(cast.mina.user)
    with time_machine.travel(later(40), tick=False):
        browser.get("/practice/course/")
        with django_assert_num_queries(8):   # session, user, site; phases, levels; decisions; the taper twice
            answer = browser.get("/practice/course/")
        assert "Kick-off" in answer.content.decode()
        assert browser.get("/practice/course/", headers={"if-none-match": answer["ETag"]}).status_code == 304
        assert "Exercises by level" in browser.get("/practice/course/table.csv").content.decode()
