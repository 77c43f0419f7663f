"""The 80 % band, and a look every ten treatment days: published defaults that a practice may change.

Bailey DL et al. 2020, Br J Sports Med 54(6):326-331: of 459 studies few define adherence; the commonest band called
satisfactory is 80 to 99 % of what was recommended. One payer's rule for a progress report, used as a documented default:
Medicare Benefit Policy Manual (CMS Pub. 100-02), chapter 15, section 220.3 D: at least once every 10 treatment days.
"""

import json
from datetime import date
from pathlib import Path

import pytest

from clinic.visits.rules import plan
from programs.following.rules import ruleset
from programs.following.rules.adherence import Bands, band

DATA = json.loads((Path(__file__).parents[2] / "fixtures/rule_sets/default.json").read_text(encoding="utf-8"))
RULES = ruleset.read(1, DATA)


@pytest.mark.parametrize(
    ("share", "word"),
    [(0.79, "partly"), (0.8, "on_track"), (0.99, "on_track"), (1.0, "on_track"), (0.5, "partly"), (0.49, "low")],
)
def test_what_is_recommended_is_followed_from_80_percent_on(share, word):
    said = band(recent=share, silent_days=0, kick_off=True, paused=False, counted_days=7, bands=RULES.bands)
    assert said == word


def test_the_shipped_rule_set_cites_the_review_for_it_and_a_clinic_may_move_it():
    row = next(row for row in ruleset.thresholds(DATA) if row.name == "bands.on_track")
    assert (row.value, row.least, row.most) == (0.8, 0.5, 1)
    assert "Bailey DL et al. 2020" in RULES.sources["bands.on_track"]
    assert "Bailey DL et al. 2020" in RULES.sources["taper.adherence"]
    assert Bands() == RULES.bands   # the defaults of the code are those of the data


def test_the_tenth_treatment_day_is_a_look():
    today = date(2026, 3, 2)
    assert plan.VISITS_BETWEEN == 10
    assert plan.after_visits(8, today) is None
    assert plan.after_visits(9, today).earliest == today    # the next visit is the tenth
    assert plan.after_visits(4, today, every=5) is not None  # another payer, another number
