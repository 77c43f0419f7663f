"""Outcomes: tallies equal to a recount over each client's own series, missing follow-ups apart, who sees whose."""

import json
import random
from collections import Counter, defaultdict
from datetime import timedelta

import pytest
import time_machine

from clinic.people.models import Client, Episode
from clinic.visits.models import Measure, Result
from clinic.visits.queries import results_for
from dashboards.figures import outcomes as figures
from dashboards.pages.views.outcomes import WORDS
from dashboards.read_models import outcomes as model
from dashboards.read_models.outcome_rows import OutcomeRow, Outcomes, RegionRow, Tally, by_region, total
from programs.following.rules.intervals import wilson
from tests.conftest import NOW
from tests.visits.conftest import measures

__all__ = ["measures"]
DAY = timedelta(days=1)
TODAY = NOW.date() + 60 * DAY
SERIES = (("psfs", "none"), ("lunge-distance", "left"), ("lunge-distance", "right"), ("hip-flexion", "left"))
SAID = {
    "improved_beyond_mcid": "improved", "worse_beyond_mcid": "worse", "no_detectable_change": "same",
    "not_judged": "unjudged",
}


def measured(episode, code, day, value, side="none"):
    return Result(
        episode=episode, measure=Measure.objects.get(code=code), side=side, value=value, at=NOW + day * DAY,
        by=episode.lead.user,
    )


@pytest.fixture
def caseload(cast, measures):
    """Thirty episodes of Mina and Theo with all sorts of values, some on one day only, some ended, some never measured."""
    dice = random.Random(5)
    rows = []
    for number in range(30):
        client = Client.objects.create(site=cast.site, given_name=f"C{number}", zone=cast.site.zone, registered=NOW)
        episode = Episode.objects.create(
            client=client, lead=dice.choice((cast.mina, cast.theo)), region=dice.choice(("hip", "knee", "neck")),
            complaint="Ache", opened=NOW.date(), status=dice.choice(("active", "active", "finished")),
        )
        for code, side in SERIES:
            for day in sorted(dice.sample((0, 0, 14, 30), dice.randint(0, 3))):
                rows.append(measured(episode, code, day, dice.randint(0, 10), side))
    Result.objects.bulk_create(rows)


@pytest.mark.parametrize("who", ["lead", "mina", "theo"])
def test_tallies_equal_a_recount_of_each_clients_series(cast, caseload, who):
    user = getattr(cast, who).user
    expected: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    unmeasured = Counter()
    for episode in Episode.objects.select_related("client", "lead"):
        if who != "lead" and episode.lead.user_id != user.pk:
            continue
        series = results_for(user, episode)
        unmeasured[episode.region] += not series
        for line in series:
            if line.points[0].at.date() == line.points[-1].at.date():
                code = "missing" if episode.status == "finished" else "waiting"
            elif line.change.code == "changed_beyond_error":
                code = "better" if line.change.better else "worse"
            else:
                code = SAID[line.change.code]
            expected[line.measure.code, episode.region][code] += 1
    found = model.outcomes(user, TODAY)
    assert {(row.measure, row.region): row.tally for row in found.rows} == {
        key: Tally(**counter) for key, counter in expected.items()
    }
    assert {row.region: row.unmeasured for row in found.regions} == unmeasured
    whole = total(found.rows)
    assert whole.interval == wilson(whole.improved + whole.better, whole.improved + whole.better + whole.same + whole.worse)
    if who == "lead":
        assert all(getattr(whole, field) for field, *_ in figures.PARTS)
        assert sum(row.episodes for row in found.regions) == 32


def test_only_the_last_twelve_months_of_those_one_looks_after(cast, caseload):
    assert model.outcomes(cast.desk.user, TODAY).regions == model.outcomes(cast.ada.user, TODAY).regions == ()
    assert model.outcomes(cast.lead.user, NOW.date() - DAY).regions == ()
    assert model.outcomes(cast.lead.user, NOW.date() + 364 * DAY).regions
    assert model.outcomes(cast.lead.user, NOW.date() + 365 * DAY).regions == ()
    assert model.outcomes(cast.lead.user, TODAY, cast.theo) == model.outcomes(cast.theo.user, TODAY)


@pytest.mark.parametrize("many", [False, True])
def test_three_queries_however_many_values(cast, measures, many, request, django_assert_num_queries):
    if many:
        request.getfixturevalue("caseload")
    with django_assert_num_queries(3):
        model.outcomes(cast.lead.user, TODAY)


def outcome(tally, region="hip", name="Scale"):
    return OutcomeRow(name.lower(), name, region, tally)


def test_the_bars_and_dots_hold_the_tallies():
    found = Outcomes(
        (
            outcome(Tally(improved=6, better=2, same=1, worse=1, waiting=3, missing=2)),
            outcome(Tally(same=4, worse=6), "knee"),
        ),
        (RegionRow("hip", 20, 5), RegionRow("knee", 10, 0)),
    )
    bars = figures.measures(found)
    assert {trace.name: trace.x[0] for trace in bars.data} == {
        "Improved beyond the MCID": 6, "Better beyond error": 2, "No detectable change": 5, "Worse beyond error": 7,
        "No second value yet": 3, "Ended without a second value": 2,
    }
    assert len({trace.marker.pattern.shape for trace in bars.data}) == len(bars.data)
    # Wilson's interval of 8 of 20, by hand: (9.9207 -/+ 1.96 sqrt(20 * .4 * .6 + .9604)) / 23.8415
    assert bars.layout.title.text == (
        "8 of 20 got better beyond measurement error (40 %, 95 % interval 22 to 61 %); "
        "5 of 25 comparisons have no second value"
    )
    dots = figures.regions(found, WORDS)
    assert dict(zip(dots.data[0].y, dots.data[0].x, strict=True)) == {"Hip (10)": 80.0, "Knee (10)": 0.0}
    assert dots.data[0].error_x.array[0] == pytest.approx(100 * wilson(8, 10)[1] - 80, abs=0.01)
    assert dots.layout.title.text == "Hip differs from knee beyond chance"


def test_many_complaints_that_differ_are_counted():
    odd = [outcome(Tally(worse=20), region) for region in ("knee", "neck", "calf", "foot_ankle")]
    found = Outcomes((outcome(Tally(improved=90)), *odd, outcome(Tally(improved=9, worse=1), "thigh")), ())
    assert figures.regions(found, WORDS).layout.title.text == "4 of 5 other complaints differ from hip beyond chance"
    two = Outcomes((outcome(Tally(improved=90)), *odd[1:2], odd[3]), ())
    assert figures.regions(two, WORDS).layout.title.text == "Neck, foot and ankle differ from hip beyond chance"


def test_nothing_to_judge_is_not_nought_percent():
    waiting = Outcomes((outcome(Tally(waiting=3)),), (RegionRow("hip", 3, 0),))
    assert figures.measures_title(waiting) == "Nothing can be compared yet; 3 of 3 comparisons have no second value"
    assert len(figures.regions(waiting, WORDS).data) == 0
    assert len(figures.measures(Outcomes((), ())).data) == 0
    assert by_region(waiting.rows)["hip"].interval is None


def test_every_region_and_measure_stays_small():
    tally = Tally(9, 9, 9, 9, 9, 9, 9)
    rows = tuple(outcome(tally, region, f"A measure with a long name {number}") for region in WORDS for number in range(30))
    found = Outcomes(rows, tuple(RegionRow(region, 200, 3) for region in WORDS))
    for fig in (figures.measures(found), figures.regions(found, WORDS)):
        assert len(json.dumps(json.loads(fig.to_json()))) < 60_000


def test_the_page_narrows_to_a_measure_and_states_what_is_missing(cast, caseload, browse, django_assert_num_queries):
    with time_machine.travel(NOW + 60 * DAY, tick=False):
        lead = browse(cast.lead.user)
        text = lead.get("/practice/outcomes/").content.decode()
        one = lead.get("/practice/outcomes/", {"measure": "psfs"}).content.decode()
        assert lead.get("/practice/outcomes/", {"measure": "nonsense"}).status_code == 404
        rows = lead.get("/practice/outcomes/table.csv").content.decode().splitlines()
        with django_assert_num_queries(8):
            lead.get("/practice/outcomes/")
    assert "ended without one" in text
    assert "32 episodes opened in the last twelve months" in text
    assert "this does not show what the treatment did" in text
    assert text.count("<caption>") == one.count("<caption>") == 2
    assert "Patient-Specific" in one
    assert "Weight-bearing lunge, toe to wall</th>" not in one
    assert len(rows) == 1 + len(model.outcomes(cast.lead.user, TODAY).rows)
    assert "style=" not in text


def test_an_unmeasured_practice_says_so(cast, browse):
    with time_machine.travel(NOW, tick=False):
        text = browse(cast.mina.user).get("/practice/outcomes/").content.decode()
    assert 'class="empty"' in text
    assert "in 1 episode of the last twelve months" in text
