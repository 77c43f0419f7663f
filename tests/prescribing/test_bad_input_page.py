"""What cannot be used is said in a sentence at its own field; everything typed stays; nothing is saved."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.prescribing.models import Program
from tests.prescribing.test_prescriber_page import typed

DOSE = "items.0.dose"
BAD = [
    (f"{DOSE}.reps.full", "NaN", f"{DOSE}.reps", "Give whole numbers from 1 to 3600"),
    (f"{DOSE}.reps.minimum", "-3", f"{DOSE}.reps", "Give whole numbers from 1 to 3600"),
    (f"{DOSE}.reps.full", "999999", f"{DOSE}.reps", "1 to 3600; not"),
    (f"{DOSE}.sets.full", "9" * 40, f"{DOSE}.sets", "Give whole numbers from 1 to 3600"),
    (f"{DOSE}.sets.minimum", "Infinity", f"{DOSE}.sets", "Give whole numbers from 1 to 3600"),
    (f"{DOSE}.tempo", "0", f"{DOSE}.tempo", "Must be 1 to 30 seconds, not 0."),
    ("items.0.rounds.full", "1e3", "items.0.rounds", "Give whole numbers from 1 to 10"),
    ("items.0.priority", "-1", "items.0.priority", "Give a whole number from 1 to 9"),
    ("items.0.side", "middle", "items.0.side", "Choose one of both, each"),
    ("items.0.level", "77", "items.0.level", "Give a whole number from 1 to 20"),
    ("phases.0.days", "0", "phases.0.days", "Give a whole number from 1 to 366 days, not 0."),
    ("phases.0.days", "1e999", "phases.0.days", "Give a whole number from 1 to 366 days"),
    ("phases.0.days", "", "phases.0.days", "Only the last phase can go on without an end."),
    ("phases.0.days_per_week", "8", "phases.0.days_per_week", "Give a whole number from 1 to 7 days a week, not 8."),
    ("phases.0.sessions.full", "NaN", "phases.0.sessions", "Give whole numbers from 1 to 6"),
    ("phases.0.kind", "maintenance", "phases.1.kind", "Phases go from kick-off to taper to maintenance."),
]


@pytest.fixture
def give(cast, browse, library):
    """give({…}) -> the page that answers the form with these fields changed."""
    mina, address = browse(cast.mina.user), f"{reverse('prescribing:new')}?episode={cast.ada_hip.public_id}"

    def sent(changed):
        answer = mina.post(address, typed(timezone.now().date()) | changed)
        assert answer.status_code == 400
        assert not Program.objects.exists()
        return answer.content.decode()

    return sent


@pytest.mark.parametrize(("name", "value", "at", "sentence"), BAD, ids=lambda part: str(part)[:24])
def test_a_value_that_cannot_be_used(give, name, value, at, sentence):
    changed = {name: value}
    if name == "phases.0.kind":
        changed["phases.1.kind"] = "kick_off"
    page = give(changed)
    told = re.search(rf'id="{re.escape(at)}-error">([^<]*)<', page)
    assert told is not None
    assert sentence in told[1].replace("&#x27;", "\'")
    assert f'aria-describedby="{at}-error"' in page
    if not name.endswith((".side", ".level", ".kind")):   # a choice that does not exist has no place in a list
        assert f'name="{name}" value="{value}"' in page
    assert 'value="Hip start"' in page


def test_a_side_that_the_exercise_does_not_have(give, library):
    library.clamshell.side = "both"
    library.clamshell.save()
    page = give({"items.0.side": "left"})
    assert 'id="items.0.side-error">Clamshell cannot be given for: left side.<' in page


def test_a_dose_that_rises_inside_a_taper(give):
    page = give({
        "phases.1.kind": "taper", "phases.1.days": "14", "phases.1.days_per_week": "7", "phases.1.sessions.minimum": "1",
        "phases.1.sessions.full": "6",
    })
    assert 'id="phases.1.sessions-error">A taper cannot ask for more sessions a week than the phase before it.<' in page
    assert 'name="phases.1.sessions.full" value="6"' in page


def test_times_that_do_not_fit_the_sessions_are_said_where_they_are_ticked(give):
    page = give({"phases.0.times.morning": "on", "phases.0.times.midday": "on", "phases.0.times.evening": "on"})
    assert "Choose one time of day for each session" in page.split("Times of day of phase 1")[1].split("</details>")[0]
