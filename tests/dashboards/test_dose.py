"""Asked and done: read models equal a recount from days and logs; figures say their numbers; the pages and their queries."""

import random
from collections import defaultdict
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine

from dashboards.figures import dose as figures
from dashboards.read_models import dose as model
from dashboards.read_models.dose_rows import (
    LEAST_DAYS,
    SKIPS,
    ExerciseRow,
    Total,
    by_kind,
    by_minutes,
    line_of,
    most_skipped,
    most_uneven,
    totals,
)
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.log_session import log_session
from programs.following.models import DayRecord, SessionLog
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Item
from tests.conftest import NOW
from tests.following.conftest import START, STRETCH, ItemEntry, done


@pytest.fixture
def mixed(cast, program, give, later):
    """Four programs of Mina's and one of Theo's, logged by dice over two weeks; days 0 to 14."""
    dice = random.Random(5)
    programs = [program, give("Cy"), give("Dee"), give("Eve"), give("Flo", lead=cast.theo)]
    for one in programs:
        revision = one.revisions.latest("number")
        for day in range(14):
            if dice.random() < 0.7:
                items = done(share=dice.choice((0.3, 1.0)), skipped=dice.choice(("", "", *SKIPS)))
                if dice.random() < 0.5:
                    items = tuple(ItemEntry(STRETCH, 60, 20) if item.item_key == STRETCH else item for item in items)
                entry = SessionEntry(uuid4(), 0, revision.public_id, START + timedelta(days=day), items=items)
                log_session(
                    by=one.clinician.user, program=one, entry=entry, now=NOW + timedelta(days=day), source=LogSource.CLINICIAN
                )
    follow_programs(now=later(14))
    return programs


def test_programs_and_exercises_are_what_a_recount_of_days_and_logs_says(cast, mixed, later):
    mine = mixed[:4]
    courses = model.courses(cast.mina.user)
    assert {row.program for row in courses} == {one.pk for one in mine}
    for one in mine:
        days = [
            day for day in DayRecord.objects.filter(program=one)
            if day.prescribed_sessions and (day.day < later(14).date() or day.logged)
        ]
        held = [row for row in courses if row.program == one.pk]
        assert sum(row.days for row in held) == len(days)
        assert sum(row.seconds for row in held) == sum(day.prescribed_minimum for day in days)
        assert sum(row.credit for row in held) == pytest.approx(sum(day.credit * day.prescribed_sessions for day in days))
    counted = defaultdict(lambda: [0, 0, 0])
    for log in SessionLog.objects.filter(program__in=mine).prefetch_related("items"):
        entries = {row.item_key: row for row in log.items.all()}
        for item in Item.objects.filter(revision=log.revision).select_related("exercise"):
            row = entries.get(item.key)
            counted[item.exercise.slug][0] += 1
            counted[item.exercise.slug][1] += bool(row and (row.done_left or row.done_right))
            counted[item.exercise.slug][2] += bool(row and row.skipped == "pain")
    found = {row.slug: [row.sessions, row.done, row.skipped[SKIPS.index("pain")]] for row in model.exercises(cast.mina.user)}
    assert found == dict(counted)
    everybody = model.exercises(cast.lead.user)
    assert sum(row.sessions for row in everybody) > sum(row[0] for row in counted.values())
    assert model.exercises(cast.lead.user, cast.theo) == model.exercises(cast.theo.user)
    assert model.exercises(cast.desk.user) == model.courses(cast.desk.user) == []
    stretch = next(row for row in everybody if row.slug == "hip-stretch")
    assert (stretch.sided, stretch.less_left) == (5, 0)
    assert stretch.less_right > 0
    assert len(totals(courses)) == 4
    assert [row.kind for row in by_kind(courses)] == ["kick_off"]


def test_minutes_fall_into_their_bins_and_a_line_needs_a_slope():
    rows = [Total(minutes, 0.9 - minutes / 100) for minutes in (5, 6, 7, 8, 9, 9.9, 10, 14.9, 31)]
    bins = by_minutes(rows)
    assert [(row.first, row.programs) for row in bins] == [(0, 6), (10, 2), (30, 1)]
    assert bins[0].mean == pytest.approx(0.9 - sum((5, 6, 7, 8, 9, 9.9)) / 600)
    assert bins[0].low < bins[0].mean < bins[0].high
    assert (bins[1].mean, bins[1].low) == (None, None)
    line = line_of(rows)
    assert line.slope == pytest.approx(-0.01)
    fig = figures.by_minutes(bins, line)
    assert list(fig.data[0].x) == ["under 10 min"]
    assert fig.data[0].y[0] == pytest.approx(100 * bins[0].mean)
    assert list(fig.data[0].customdata[0]) == [6, round(100 * bins[0].low), round(100 * bins[0].high)]
    assert fig.layout.title.text == "5 more minutes a day go with 5.0 points less of the dose (95 % interval 5.0 to 5.0)"
    flat = line_of([Total(minutes, 0.5 + 0.1 * (minutes % 2)) for minutes in range(20)])
    assert figures.minutes_title(flat) == "No difference found between asking less and asking more"
    assert "Too few" in figures.minutes_title(line_of(rows[:3]))
    assert figures.by_minutes([], None).data == ()


def exercise(name, sessions=40, done=30, skipped=(4, 2, 1, 0, 0), sides=(6, 1, 3)):
    return ExerciseRow(name.lower(), name, sessions, done, skipped, *sides)


def test_bars_hold_the_percent_and_the_hover_the_count():
    rows = most_skipped([exercise("Bridge"), exercise("Roll", done=0), exercise("Rare", sessions=9)])
    assert [row.name for row in rows] == ["Roll", "Bridge"]
    fig = figures.skipped(rows)
    assert [trace.name for trace in fig.data] == ["It hurt", "No time", "Forgot", "No reason said"]
    assert list(fig.data[0].x) == [10.0, 10.0]
    assert [list(pair) for pair in fig.data[-1].customdata] == [[33, 40], [3, 40]]
    assert sum(trace.x[1] for trace in fig.data) == pytest.approx(25.0)
    assert fig.layout.title.text == "Roll is left out most: in 100 % of its sessions (95 % interval 91 to 100 %)"
    assert figures.skipped([]).layout.title.text == "No exercise has been left out"
    uneven = figures.sides(most_uneven([exercise("Bridge", sides=(0, 0, 0)), exercise("Stretch")]))
    assert [list(trace.x) for trace in uneven.data] == [[-1], [3]]
    assert uneven.layout.title.text == "One side is done less in 4 of 6; the right is behind in most"


def test_the_figures_of_a_thousand_exercises_stay_small_and_plain():
    rows = most_skipped([exercise(f"Nr {number} </script>") for number in range(1000)])
    text = figures.skipped(rows).to_json()
    assert len(text) < 20_000
    assert "</script>" not in text.replace("\\u003c", "<").replace("&lt;/script&gt;", "")


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_takes_as_many_queries_for_three_as_for_one(
    cast, program, give, browse, later, count, django_assert_num_queries
):
    for index in range(count - 1):
        give(f"Client{index}")
    follow_programs(now=later(LEAST_DAYS + 3))
    browser = browse(cast.mina.user)
    with time_machine.travel(later(LEAST_DAYS + 3), tick=False):
        browser.get("/practice/dose/")
        with django_assert_num_queries(6):   # session, user, site; programs by phase; names and exercises
            answer = browser.get("/practice/dose/")
    assert "Programs are not dealt out at random" in answer.content.decode()
    assert "style=" not in answer.content.decode()
    with time_machine.travel(later(LEAST_DAYS + 3), tick=False):
        again = browser.get("/practice/dose/", headers={"if-none-match": answer["ETag"]})
        assert (again.status_code, again.content) == (304, b"")
        assert browser.get("/practice/dose/", headers={"if-none-match": '"old"'}).status_code == 200


def test_an_empty_practice_says_so(cast, browse):
    assert 'class="empty"' in browse(cast.lead.user).get("/practice/dose/").content.decode()
