"""What was measured, in plain words: what each measure is about, and what the difference means; and taking an hour held."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.utils import translation

from clinic.booking.models import Appointment
from clinic.visits.actions.record_result import record_result
from clinic.visits.models import Measure
from programs.portal.wording_measures import MEASURES, UNITS
from tests.access.matrix_portal import offer

KNOWN = json.loads((Path(__file__).parents[2] / "fixtures/measures.json").read_text("utf-8"))["measures"]
PLAIN_UNITS = {"cm", "kg", "%", "mmHg", ""}   # said as they are written


@pytest.fixture
def ada(cast, browse):
    return browse(cast.ada.user)


@pytest.fixture
def measured(cast, now):
    """measured(first, last, …) records a measure of Ada's hip twice."""

    def recorded(*values, mdc=2, mcid=3, code="pain-now"):
        measure = Measure.objects.create(
            code=code, name="Pain on a scale", scoring="single", item_minimum=0, item_maximum=10, direction="lower", mdc=mdc,
            mcid=mcid, unit="points", source="invented",
        )
        for value in values:
            record_result(by=cast.mina.user, episode=cast.ada_hip, measure=measure, values=[value], side="none", now=now)

    return recorded


def words(browser) -> str:
    return " ".join(browser.get("/portal/measures/").content.decode().split())


def test_before_anything_was_measured_it_says_where_it_will_be(ada):
    assert "Nothing was measured yet." in words(ada)


@pytest.mark.parametrize(("values", "bounds", "said"), [
    ((7,), {}, "Measured once so far."),
    ((7, 3), {}, "Better than at first, by as much as most people can feel."),
    ((3, 7), {}, "Worse than at first. Ask your clinician what this means for you."),
    ((7, 4), {"mcid": 4}, "A little better than at first."),
    ((4, 7), {"mcid": 4}, "A little worse than at first."),
    ((7, 6), {}, "About the same as at first. A difference this small can be chance."),
    ((7, 6), {"mdc": None, "mcid": None}, "On the way up. We cannot say yet if this is more than chance."),
    ((6, 7), {"mdc": None, "mcid": None}, "Not better than at first. We cannot say yet if this is more than chance."),
])
def test_each_difference_has_its_plain_words(ada, measured, values, bounds, said):
    measured(*values, **bounds)
    page = words(ada)
    assert said in page
    assert "How much it hurts, 0 to 10" in page
    assert f"{values[-1]} points" in page
    assert "Less is better." in page
    assert ("First:" in page) == (len(values) > 1)
    for term in ("MCID", "MDC", "Pain on a scale"):
        assert term not in page


def test_in_spanish(cast, ada, measured):
    cast.ada.language = "es"
    cast.ada.save()
    measured(7, 3)
    page = words(ada)
    assert "Cuánto duele, de 0 a 10" in page
    assert "Mejor que al principio, tanto como la mayoría puede notar." in page
    assert "3 puntos" in page


@pytest.mark.parametrize("measure", KNOWN, ids=lambda measure: measure["code"])
def test_every_measure_of_the_house_is_said_plainly(measure):
    said = MEASURES[measure["code"]]()
    assert said.startswith("How ")
    assert measure["unit"] in UNITS or measure["unit"] in PLAIN_UNITS
    with translation.override("es"):
        assert MEASURES[measure["code"]]() != said


def test_an_hour_held_for_her_is_shown_with_its_end_and_taken(cast, ada):
    held = Appointment.objects.get(offer__public_id=offer(cast)["public_id"])
    page = " ".join(ada.get("/portal/visits/").content.decode().split())
    assert "This time waits for your yes. It is held for you until" in page
    assert f"/portal/visits/{held.public_id}/confirm/" in page
    assert f"/portal/visits/{held.public_id}/move/" not in page   # an offer is taken or left
    assert ada.post(f"/portal/visits/{held.public_id}/confirm/").status_code == 302
    held.refresh_from_db()
    assert (held.status, held.offer.state) == ("booked", "accepted")
    assert "This time waits for your yes." not in ada.get("/portal/visits/").content.decode()


def test_an_hour_held_for_her_can_be_left(cast, ada):
    held = Appointment.objects.get(offer__public_id=offer(cast)["public_id"])
    assert ada.post(f"/portal/visits/{held.public_id}/cancel/").status_code == 302
    held.refresh_from_db()
    assert (held.status, held.offer.state) == ("cancelled", "declined")
    assert str(held.public_id) not in ada.get("/portal/visits/").content.decode()
