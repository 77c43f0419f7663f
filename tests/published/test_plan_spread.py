"""Sessions spread over a week against published even spreads.

Source: Toussaint G, "The Euclidean algorithm generates traditional musical rhythms", Proceedings of BRIDGES 2005, pp.
47-56: the most even placing of k onsets in n pulses, E(k, n), listed with names of rhythms. The lists below are from
memory. The mathematics is the same as for k days of 7; a spread is compared up to where it begins.
"""

import json
from itertools import pairwise
from pathlib import Path

import pytest

from programs.library.rules.dose import Span
from programs.prescribing.rules.plan import PhasePlan

EVEN = {2: "x..x...", 3: "x.x.x..", 4: "x.x.x.x", 5: "x.xx.xx", 6: "x.xxxxx"}


@pytest.mark.parametrize(("k", "rhythm"), EVEN.items())
def test_days_of_a_week_are_the_most_even_spread(k, rhythm):
    phase = PhasePlan("taper", 7, Span(1, 1), k)
    ours = "".join("x" if phase.active_on(day) else "." for day in range(7))
    assert ours in {rhythm[turn:] + rhythm[:turn] for turn in range(7)}


@pytest.mark.parametrize("file", sorted(Path("fixtures/templates").glob("*.json")), ids=lambda file: file.stem)
def test_what_stays_is_within_the_published_frequency_for_strength(file):
    """Two to three days a week for each muscle group: Garber CE et al. 2011, Med Sci Sports Exerc 43(7):1334-1359."""
    phases = json.loads(file.read_text())["plan"]["phases"]
    assert 2 <= phases[-1]["days_per_week"] <= 3


@pytest.mark.parametrize("file", sorted(Path("fixtures/templates").glob("*.json")), ids=lambda file: file.stem)
def test_a_template_thins_step_by_step(file):
    """Front-loaded, then scaled back (common practice, no source)."""
    phases = json.loads(file.read_text())["plan"]["phases"]
    sessions = [pair if isinstance(pair, int) else pair[1] for pair in (phase["sessions"] for phase in phases)]
    weekly = [count * phase["days_per_week"] for count, phase in zip(sessions, phases, strict=True)]
    assert all(before > after for before, after in pairwise(weekly))
