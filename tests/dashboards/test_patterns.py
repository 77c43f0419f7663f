"""The heat map by day: each pattern beside its neighbour, days equal to their records, groups that stand together, links."""

import random
from datetime import date, timedelta
from itertools import groupby

import pytest
import time_machine
from hypothesis import given
from hypothesis import strategies as st

from clinic.visits.models import Reassessment
from dashboards.figures import adherence as figures
from dashboards.read_models import adherence as model
from dashboards.read_models.patterns import PATTERNS, pattern
from dashboards.read_models.rows import BAND_ORDER, AdherenceRow, ProgramLine, WeekCell
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import DayRecord
from programs.prescribing.actions.pause_program import pause_program
from tests.dashboards.logs import log_days

FIRST = date(2026, 2, 2)     # a Monday
DAYS = [FIRST + timedelta(days=back) for back in range(28)]
NOTHING = WeekCell("nothing")


def cells(marks):
    """One sign a day: x done, o no log, 0 logged as not done, . nothing asked."""
    said = {"x": WeekCell("share", 1.0, 1, 1), "o": WeekCell("silent", None, 0, 1, 1), "0": WeekCell("zero", 0.0, 0, 1)}
    return [said.get(mark, NOTHING) for mark in marks]


@pytest.mark.parametrize(("marks", "expected"), [
    ("." * 22 + "xxxxxx", "few"),                       # six days
    ("." * 21 + "xxxxxxx", "steady"),                   # seven
    ("o" * 28, "none"), ("0" * 28, "none"),
    ("x" * 21 + "o" * 7, "stopped"),                    # nothing in seven days
    ("x" * 21 + "o" * 6 + "x", "fading"),               # one of them done
    ("xxxxxxxxxxxxxx" + "xxxxxxxxx" + "ooooo", "fading"),
    ("ooooo" + "xxxxxxxxx" + "xxxxxxxxxxxxxx", "rising"),
    ("xxxxxoo" * 4, "weekdays"), ("oooooxx" * 4, "weekends"),
    ("xoxoxoo" * 4, "weekdays"),                        # three of five against none
    ("xoxoooo" * 4, "weekdays"),                        # two of five: 40 points, the bound
    ("xoooooo" * 4, "on_off"),                          # one of five: 20 points
    ("xxxxxxo" * 4, "weekdays"), ("xxxxxxx" * 4, "steady"), ("xoxxoxx" * 4, "weekends"),
    ("xxoxoxo" * 4, "on_off"),
])
def test_each_pattern_beside_its_neighbour(marks, expected):
    assert pattern(DAYS, cells(marks)) == expected


@given(st.text(alphabet="xo0.", min_size=28, max_size=28))
def test_every_four_weeks_have_one_pattern_and_it_is_named(marks):
    found = pattern(DAYS, cells(marks))
    assert found in PATTERNS
    assert set(PATTERNS) == set(figures.PATTERNS)
    assert (found == "few") == (28 - marks.count(".") < 7)
    if found == "none":
        assert "x" not in marks


def test_days_equal_their_records_on_random_logs(cast, program, give, report, later):
    dice = random.Random(3)
    for day in range(30):
        if dice.random() < 0.6:
            report(day, items=() if dice.random() < 0.2 else None)
    log_days(give("Cy"), 12)
    pause_program(by=cast.mina.user, program=give("Dee"), reason="Away", now=later(20))
    follow_programs(now=later(30))
    today = later(30).date()
    columns = model.days(today)
    rows = model.day_rows(model.lines_of(model.programs(cast.mina.user)), columns, today)
    assert len(rows) == 3
    for row in rows:
        records = {record.day: record for record in DayRecord.objects.filter(program=row.line.pk)}
        for day, cell in zip(columns, row.cells, strict=True):
            record = records.get(day)
            if record is None or not record.prescribed_sessions or (day == today and not record.logged):
                assert cell.kind == ("paused" if record and record.state == "paused" else "nothing")
            elif not record.logged:
                assert (cell.kind, cell.share) == ("silent", None)
            else:
                assert (cell.kind, cell.share) == ("share" if record.credit else "zero", record.credit)
                assert (cell.done, cell.asked) == (
                    min(record.sessions_done, record.prescribed_sessions), record.prescribed_sessions
                )
    kinds = {cell.kind for row in rows for cell in row.cells}
    assert kinds == {"share", "zero", "silent", "paused", "nothing"}


def test_those_alike_stand_together_with_a_line_between_the_groups(cast, program, give, later):
    for name, days in (("Cy", 5), ("Dee", 30), ("Eve", 5), ("Flo", 30)):
        log_days(give(name), days)
    follow_programs(now=later(30))
    today = later(30).date()
    columns = model.days(today)
    rows = model.day_rows(model.lines_of(model.programs(cast.mina.user)), columns, today)
    groups = [(row.line.band, row.pattern) for row in rows]
    assert len(set(groups)) == len([key for key, _ in groupby(groups)]) >= 2
    assert [BAND_ORDER.index(band) for band, _ in groups] == sorted(BAND_ORDER.index(band) for band, _ in groups)
    fig = figures.heat_map(rows, columns, {}, daily=True)
    assert [shape.y0 for shape in fig.layout.shapes] == [
        place + 0.5 for place in range(len(rows) - 1) if groups[place] != groups[place + 1]
    ]


def test_a_band_is_a_link_and_both_ways_of_looking_are_there(cast, program, give, browse, later):
    log_days(give("Cy"), 30)
    follow_programs(now=later(30))
    with time_machine.travel(later(30), tick=False):
        browser = browse(cast.mina.user)
        text = browser.get("/practice/adherence/").content.decode()
        silent = browser.get("/practice/adherence/?band=silent").content.decode()
        weeks = browser.get("/practice/adherence/?by=week").content.decode()
        odd = browser.get("/practice/adherence/?band=nonsense&by=nonsense").content.decode()
    assert 'href="?band=silent"' in text
    assert 'href="?by=week"' in text
    assert ("Ada Quill" in silent, "Cy Reed" in silent) == (True, False)
    assert "Nothing done" in silent
    assert ('id="figure-days"' in text, 'id="figure-weeks"' in weeks) == (True, True)
    assert "Cy Reed" in odd


def test_forty_programs_by_day_stay_small():
    line = ProgramLine(1, cast_id(), "Ada Quill", cast_id(), "Hip", "Mina", "on_track", "taper", 0.9)
    rows = [AdherenceRow(line, tuple(cells("xo0." * 7)), "on_off")] * 40
    assert len(figures.heat_map(rows, DAYS, {}, daily=True).to_json()) < 60_000


def cast_id():
    from uuid import UUID

    return UUID(int=7)


def test_ticked_reviews_of_the_overdue_page_are_booked_together(cast, program, give, browse, later):
    give("Cy"), give("Dee")
    follow_programs(now=later(30))
    with time_machine.travel(later(30), tick=False):
        browser = browse(cast.mina.user)
        text = browser.get("/practice/overdue/").content.decode()
        keys = [str(key) for key in Reassessment.objects.filter(status="open").values_list("public_id", flat=True)]
        ticks = [key for key in keys if f'name="look" value="{key}" form="book-these"' in text]
        assert len(ticks) == 3
        assert '<form id="book-these" class="noprint" method="get" action="/reassessments/book/">' in text
        offers = browser.get("/reassessments/book/", {"look": ticks}).content.decode()
        chosen = [part.split('"')[0] for part in offers.split('name="choice" value="')[1:]]
        assert len(chosen) == 3
        browser.post("/reassessments/book/", {"choice": chosen[:2]})
        assert Reassessment.objects.filter(appointment__isnull=False).count() == 2
        after = browser.get("/practice/overdue/").content.decode()
    assert after.count('name="look"') == 1
    assert 'name="look"' not in browse(cast.lead.user).get("/practice/overdue/").content.decode()
