"""Every chart as a file and as a table: one rule makes the file of each, and what a chart shows can be read without it."""

import csv
import io
import json
import re
from html import unescape

import pytest
import time_machine

from clinic.people.models import Client
from dashboards.figures.cells import cells_of
from programs.following.actions.follow_programs import follow_programs
from tests.dashboards.logs import log_days
from tests.dashboards.test_outcomes import caseload
from tests.dashboards.test_practice import book
from tests.visits.conftest import look, measures

__all__ = ["book", "caseload", "look", "measures"]
ROOT = "/practice/"
PAGES = {
    "adherence": {"phases", "days"}, "dose": {"minutes", "dose-phases", "skipped", "sides"},
    "overdue": {"ageing", "reasons", "coming"}, "progression": {"phases", "levels"},
    "course": {"phases-by-month", "levels-by-month", "decisions", "taper"}, "outcomes": {"measures", "regions"},
    "no-shows": {"control", "leads", "reminders"}, "hours": {"used", "load"},
}
DAY = 60


def figures(page):
    found = re.findall(r'<script id="figure-([^"]+)" type="application/json">(.*?)</script>', page, re.DOTALL)
    return {name: json.loads(text) for name, text in found}


def twins(page, name):
    """The words of each cell of the tables that follow a chart, up to the next one."""
    after = page.partition(f'<script id="figure-{name}"')[2].partition('<figure class="card chart"')[0]
    cells = re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", after, re.DOTALL)
    return [re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", cell))).strip() for cell in cells]


@pytest.fixture
def busy(cast, program, give, look, caseload, report, later):
    """Programs that go well, badly and not at all; reviews that are overdue and to come; measures of thirty episodes."""
    cy, _ = give("Cy"), give("Dee")
    log_days(cy, 30)
    for day in range(20):
        report(day, pain_during=3)
    follow_programs(now=later(DAY))


@pytest.fixture
def opened(cast, browse, later):
    """opened(address, user=lead) -> the answer on day 60."""

    def get(address, user=None):
        with time_machine.travel(later(DAY), tick=False):
            return browse(user or cast.lead.user).get(address)

    return get


@pytest.mark.parametrize("page", PAGES)
def test_each_chart_has_a_file_that_holds_its_marks(cast, busy, book, opened, page):
    text = opened(f"{ROOT}{page}/").content.decode()
    drawn = figures(text)
    assert set(drawn) == PAGES[page]
    full = [name for name, figure in drawn.items() if figure["data"]]
    assert text.count('data-save="svg"') == text.count('data-save="png"') == len(full) > 0
    for name, figure in drawn.items():
        assert (f'href="{ROOT}{page}/table.csv?chart={name}"' in text) == (name in full)
        answer = opened(f"{ROOT}{page}/table.csv?chart={name}")
        assert answer["Content-Disposition"].endswith(f'-{name}.csv"')
        rows = list(csv.reader(io.StringIO(answer.content.decode().lstrip("\ufeff"))))
        marks = sum(
            sum(value is not None for line in trace["z"] for value in line) if trace["type"] == "heatmap" else len(trace["x"])
            for trace in figure["data"] if trace.get("hoverinfo") != "skip"
        )
        assert len(rows) == 1 + marks
        assert {len(row) for row in rows} == {len(rows[0])}


@pytest.mark.parametrize("page", PAGES)
def test_a_chart_that_is_not_on_the_page_has_no_file(cast, busy, opened, page):
    assert opened(f"{ROOT}{page}/table.csv?chart=nothing").status_code == 404
    assert opened(f"{ROOT}{page}/table.csv?chart=ageing", cast.desk.user).status_code == 404


@pytest.mark.parametrize("page", PAGES)
def test_every_number_of_a_chart_stands_in_the_table_below_it(cast, busy, book, opened, page):
    text = opened(f"{ROOT}{page}/").content.decode()
    for name, figure in figures(text).items():
        cells = twins(text, name)
        words = " | ".join(cells)
        header, rows = cells_of(figure)
        for row in (dict(zip(header, row, strict=True)) for row in rows):
            said = row.get("In words")
            numbers = [value for value in row.values() if isinstance(value, int | float)]
            assert said in words if said else numbers, (name, row)
            if name == "skipped":     # percent of a reason: the table counts it
                numbers = [row["Left out"], row["Sessions"]]
            if name == "sides":
                numbers = [row["Done less"], row["Of clients and levels"]]
            for number in () if said else numbers:
                assert {f"{number:.0f}", f"{number:.1f}", f"{number:.0f} %", f"{number:.1f} %"} & set(re.split(
                    r"(?<=%) | to | of |, | \| ", words
                )) or re.search(rf"(?<![\d.]){number:.0f}(?![\d.])", words), (name, number, row)


def test_no_answer_stays_apart_from_nought_in_the_file(cast, busy, opened):
    text = opened(f"{ROOT}adherence/table.csv?by=week&chart=weeks").content.decode()
    rows = list(csv.DictReader(io.StringIO(text.lstrip("\ufeff"))))
    said = {row["In words"] for row in rows if not row["Number"]}
    assert {"no log", "nothing asked for"} <= said
    assert all(bool(row["Number"]) != bool(row["In words"]) for row in rows)
    assert {row["Day"] for row in rows} >= {"2026-03-02", "2026-03-09"}


def test_a_name_in_a_chart_runs_nothing_in_its_file(cast, busy, opened):
    Client.objects.filter(pk=cast.ada.pk).update(given_name='=HYPERLINK("x")')
    text = opened(f"{ROOT}adherence/table.csv?chart=days").content.decode()
    assert "'=HYPERLINK" in text
    assert not re.search(r"(^|,)\"?=", text)


def test_the_timelines_chart_has_its_file_too(cast, busy, program, opened):
    address = f"/clients/{cast.ada.public_id}/timeline/"
    text = opened(f"{address}?episode={program.episode.public_id}", cast.mina.user).content.decode()
    link = unescape(re.search(r'href="([^"]+chart=timeline)"', text)[1])
    rows = list(csv.DictReader(io.StringIO(opened(link, cast.mina.user).content.decode().lstrip("\ufeff"))))
    pain = [row for row in rows if row["Series"] == "Pain during"]
    assert [row["Number"] for row in pain] == ["3"] * 20
    assert {"Asked for at least", "Done", "No log", "Revision", "Level 1"} <= {row["Series"] for row in rows}
    assert opened(link, cast.theo.user).status_code == 404
