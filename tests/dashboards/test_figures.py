"""Figures: the title states the finding, the numbers are the rows', nothing and very much are drawn too."""

import json
from collections import Counter
from datetime import date, timedelta
from uuid import UUID

import pytest

from dashboards.figures import adherence, overdue, progression
from dashboards.figures.look import plain, whole_ticks
from dashboards.read_models.rows import (
    BAND_ORDER,
    AdherenceRow,
    ItemRow,
    Overdue,
    OverdueRow,
    ProgramLine,
    WeekCell,
    WeekDue,
)

KEY = UUID(int=7)
REASONS = {"referral": "Referral", "kick_off_end": "End of the kick-off"}
MONDAYS = [date(2026, 3, 2) + timedelta(weeks=week) for week in range(26)]
CELLS = (
    WeekCell("share", 0.714, 5, 7, 1), WeekCell("zero", 0.0, 0, 7, 3), WeekCell("silent", None, 0, 7, 7),
    WeekCell("paused"), WeekCell("nothing"),
)


def line(name="Ada Quill", band="on_track", title="Hip", phase="kick_off"):
    return ProgramLine(1, KEY, name, KEY, title, "Mina", band, phase, 0.7)


def review(days, name="Mina"):
    return OverdueRow(KEY, "Ada Quill", KEY, name, "kick_off_end", date(2026, 3, 2), days)


def item(level=1, levels=3, days=30, paused=False):
    return ItemRow("Ada Quill", KEY, "Hip", KEY, "Mina", "Bridge", level, levels, date(2026, 3, 2), days, paused)


def bands(lines):
    return Counter((line.phase, line.band) for line in lines)


def ageing(rows):
    """The figure of these rows, counted as the database counts them."""
    return overdue.ageing(Overdue(
        Counter((row.clinician, row.age) for row in rows), Counter((row.reason, row.age) for row in rows),
        max(row.days for row in rows),
    ))


def levels(items):
    """The figure of these rows, counted as the database counts them."""
    return progression.levels(Counter((row.level, row.time) for row in items), sum(row.stuck for row in items))


def test_the_five_cells_are_five_different_things():
    row = AdherenceRow(line(), CELLS)
    fig = adherence.heat_map([row], MONDAYS[:5], bands([row.line]))
    share, ground, *signs = fig.data
    assert list(share.z[0]) == [71, None, None, None, None]
    assert next(iter(share.customdata[0])) == [5, 7]
    assert list(ground.z[0]) == [None, 0, 1, 2, 3]
    assert len({colour for _, colour in ground.colorscale}) == len(adherence.STATES) == 4
    assert [(trace.text, trace.name) for trace in signs] == [
        ("0", "logged, nothing done"), ("○", "no log"), ("//", "paused"), ("·", "nothing asked for"),
    ]
    assert [(trace.x, trace.y) for trace in signs] == [((week,), (0,)) for week in (1, 2, 3, 4)]
    assert all(trace.name in trace.hovertemplate for trace in signs)


def test_the_titles_state_the_finding():
    lines = [line(), line(band="silent"), line(band="low")]
    row = AdherenceRow(lines[0], CELLS)
    assert adherence.heat_map([row], MONDAYS[:5], bands(lines)).layout.title.text == "1 of 3 programs on track, 1 silent"
    counts = Counter({("kick_off", "on_track"): 3, ("taper", "silent"): 1, ("taper", "low"): 1, ("taper", "partly"): 2})
    assert adherence.phase_chart(counts).layout.title.text == "Most silent or low in taper: 2 of 4 programs"
    good = adherence.phase_chart(Counter({("taper", "on_track"): 1}))
    assert good.layout.title.text == "Nobody is silent or low in any phase"
    assert ageing([review(3), review(40)]).layout.title.text == "2 reviews are overdue, the longest by 40 days"
    assert ageing([review(1)]).layout.title.text == "1 review is overdue, the longest by 1 day"
    weeks = [WeekDue(MONDAYS[0], 1, 0), WeekDue(MONDAYS[1], 2, 4)]
    assert overdue.coming(weeks).layout.title.text == "7 reviews come due in 2 weeks, 4 not booked yet"
    phases = Counter({"kick_off": 2, "taper": 1})
    assert progression.phases(phases).layout.title.text == "1 of 3 programs is past the kick-off"
    assert levels([item(), item(days=3)]).layout.title.text.startswith("1 of 2 exercises has stood still for 28")
    assert levels([item(level=3)]).layout.title.text.startswith("No exercise has stood still")


def test_the_bars_add_up_to_the_rows():
    rows = [review(3), review(9), review(9, "Theo"), review(60, "Theo"), review(61, "Theo")]
    fig = ageing(rows)
    assert list(fig.data[0].y) == ["Theo", "Mina"]          # the longest bar first
    drawn = {(name, trace.name): number for trace in fig.data for name, number in zip(trace.y, trace.x, strict=True)}
    assert {key: n for key, n in drawn.items() if n} == {
        (name, overdue.age_word(age)): n for (name, age), n in Counter((row.clinician, row.age) for row in rows).items()
    }
    why = overdue.by_reason(Overdue(Counter(), Counter({("referral", 0): 2, ("kick_off_end", 3): 5}), 40), REASONS)
    assert [list(trace.x) for trace in why.data] == [[0, 2], [5, 0]]
    assert why.layout.title.text == "Most are overdue for: end of the kick-off, 5 of 7"
    crowd = ageing([review(3, f"Clinician {number:03}") for number in range(60)])
    assert len(crowd.data[0].y) == 21
    assert (crowd.data[0].y[0], crowd.data[0].x[0]) == ("40 others", 40)
    items = [item(days=5), item(days=20), item(level=2, days=50), item(level=2, days=50)]
    fig = levels(items)
    assert sum(sum(trace.y) for trace in fig.data) == len(items) == 4
    fig = progression.phases(Counter({"kick_off": 2, "paused": 1}))
    assert [sum(pair) for pair in zip(*(trace.x for trace in fig.data), strict=True)] == [0, 2, 0, 0, 1]


def test_parts_are_told_apart_without_colour():
    for fig in (
        ageing([review(3), review(9), review(20), review(60)]),
        levels([item(days=1), item(days=15), item(days=30), item(days=60)]),
        adherence.phase_chart(Counter({("taper", band): 1 for band in BAND_ORDER})),
    ):
        hatches = [trace.marker.pattern.shape for trace in fig.data]
        assert len(set(hatches)) == len(hatches) == len({trace.name for trace in fig.data})


@pytest.mark.parametrize(
    "fig",
    [
        adherence.heat_map([], MONDAYS, {}), adherence.phase_chart(Counter()),
        overdue.ageing(Overdue(Counter(), Counter(), 0)),
        overdue.coming([WeekDue(MONDAYS[0], 0, 0)]), progression.phases(Counter()), progression.levels(Counter(), 0),
    ],
    ids=["heat", "phase", "ageing", "coming", "phases", "levels"],
)
def test_nothing_to_draw_is_said(fig):
    assert len(fig.data) == 0
    assert fig.layout.annotations[0].text == "Nothing to draw yet"
    assert fig.layout.title.text


def test_two_clients_of_one_name_keep_their_own_line():
    rows = [AdherenceRow(line(), CELLS), AdherenceRow(line(), CELLS)]
    fig = adherence.heat_map(rows, MONDAYS[:5], bands([row.line for row in rows]))
    assert list(fig.layout.yaxis.ticktext) == ["Ada Quill · Hip", "Ada Quill · Hip"]
    assert len(fig.data[0].z) == len(set(fig.layout.yaxis.tickvals)) == 2


def test_a_name_that_looks_like_mark_up_stays_a_name():
    row = AdherenceRow(line("<b>Ada</b>"), CELLS)
    fig = adherence.heat_map([row], MONDAYS[:5], bands([row.line]))
    assert fig.layout.yaxis.ticktext[0] == "&lt;b&gt;Ada&lt;/b&gt; · Hip"
    assert plain("O'Rourke & Sons") == "O'Rourke &amp; Sons"


def test_more_than_all_of_it_is_shown_as_all():
    row = AdherenceRow(line(), (WeekCell("share", 1.0000001, 7, 7, 0),))
    assert adherence.heat_map([row], MONDAYS[:1], bands([row.line])).data[0].z[0][0] == 100


@pytest.mark.parametrize("kind", ["share", "silent", "mixed"])
def test_two_hundred_clients_by_half_a_year_stay_small(kind):
    pick = {"share": lambda n: CELLS[0], "silent": lambda n: CELLS[2], "mixed": lambda n: CELLS[n % 5]}[kind]
    rows = [
        AdherenceRow(line(f"Client {number:03} Longsurname"), tuple(pick(number + week) for week in range(26)))
        for number in range(200)
    ]
    fig = adherence.heat_map(rows, MONDAYS, bands([row.line for row in rows]))
    assert len(json.dumps(json.loads(fig.to_json()))) <= 200_000


def test_what_is_hovered_is_said_in_words():
    said = ("due, booked", "due, not booked yet", "overdue for", "at it for")
    for fig in (overdue.coming([WeekDue(MONDAYS[0], 1, 1)]), ageing([review(1)]), levels([item()])):
        assert all(any(words in trace.hovertemplate for words in said) for trace in fig.data)


@pytest.mark.parametrize(("programs", "step"), [(1, 1), (10, 1), (11, None)])
def test_a_few_are_counted_one_by_one_along_the_axis(programs, step):
    fig = whole_ticks(progression.phases({"taper": programs}))
    assert fig.layout.xaxis.dtick == step
    assert whole_ticks(adherence.heat_map([], MONDAYS, {})).layout.xaxis.dtick is None
