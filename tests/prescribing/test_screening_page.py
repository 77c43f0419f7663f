"""The questions on their page, and what they put in the way on the prescriber."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.prescribing.models import Program, Screening, ScreeningOverride
from tests.prescribing.test_prescriber_page import typed

FINE = {"red_flags": ["none"], "signs": ["none"], "diseases": ["none"], "active": "no", "intensity": "light_moderate"}
REASON = "Her doctor was asked by phone."


@pytest.fixture
def mina(cast, browse):
    return browse(cast.mina.user)


@pytest.fixture
def page(cast):
    return reverse("prescribing:screening", args=[cast.ada.public_id])


@pytest.fixture
def unasked(cast):
    """Ada was never asked."""
    Screening.objects.filter(client=cast.ada)._raw_delete("default")


@pytest.fixture
def form(cast):
    """The prescriber for Ada's hip, and what a browser sends from it."""
    return f"{reverse('prescribing:new')}?episode={cast.ada_hip.public_id}", typed(timezone.now().date())


def test_every_question_is_asked_and_has_to_be_answered(mina, page):
    shown = mina.get(page).content.decode()
    for words in ("Pain at night that no position eases", "Swollen ankles", "Kidney disease", "for the last 3 months?"):
        assert words in shown
    refused = mina.post(page, {})
    text = refused.content.decode()
    assert refused.status_code == 400
    assert text.count("Tick what was answered with yes, or “None of these”.") == 3
    assert "Answer yes or no." in text


def test_none_goes_with_nothing_else_and_what_was_ticked_stays(mina, page):
    before = Screening.objects.count()
    refused = mina.post(page, FINE | {"red_flags": ["none", "fever"], "note": "Since Monday", "cleared_on": "32 May"})
    text = refused.content.decode()
    assert refused.status_code == 400
    assert "“None of these” goes with nothing else ticked." in text
    assert "Since Monday" in text
    assert 'value="32 May"' in text
    assert 'value="fever"' in text.split("Fever, chills")[0].rsplit("<label", 1)[1]
    assert "checked" in text.split("Fever, chills")[0].rsplit("<label", 1)[1]
    assert Screening.objects.count() == before


def test_a_day_to_come_is_no_clearance(mina, page):
    refused = mina.post(page, FINE | {"cleared_on": "2999-01-01"})
    assert "A clearance is from today or earlier." in refused.content.decode()


def test_answers_are_kept_and_told_and_the_way_leads_on_to_the_program(mina, cast, page, unasked):
    onward = f"?episode={cast.ada_hip.public_id}"
    assert "This client has not been screened yet." in mina.get(page).content.decode()
    answer = mina.post(page + onward, FINE | {"diseases": ["renal"], "active": "yes"})
    assert answer.headers["Location"] == reverse("prescribing:new") + onward
    row = Screening.objects.get(client=cast.ada)
    assert (row.active, row.diseases, row.asked_by) == (True, ["renal"], cast.mina.user)
    text = mina.get(page).content.decode()
    assert "put nothing in the way of light to moderate exercise" in text
    assert "Kidney disease" in text.split("Earlier answers")[1]


@pytest.mark.django_db
def test_it_stands_on_the_clients_page_for_clinicians_and_not_for_the_desk(cast, browse, unasked):
    address = reverse("people:client", args=[cast.ada.public_id])
    assert "has not been screened" in browse(cast.mina.user).get(address).content.decode()
    assert "screened" not in browse(cast.desk.user).get(address).content.decode()


def test_the_prescriber_says_what_is_missing_and_takes_a_reason(mina, library, form, unasked):
    address, sent = form
    assert "This client has not been screened yet." in mina.get(address).content.decode()
    refused = mina.post(address, sent)
    text = refused.content.decode()
    assert refused.status_code == 409
    assert 'id="screening_reason"' in text
    assert 'value="Hip start"' in text   # nothing typed is lost
    assert not Program.objects.exists()
    short = mina.post(address, sent | {"screening_reason": "Fine"}).content.decode()
    assert "Write why it may go on, in 10 to 300 characters." in short
    assert ">Fine</textarea>" in short
    given = mina.post(address, sent | {"screening_reason": REASON})
    assert given.status_code == 302
    assert ScreeningOverride.objects.get().reason == REASON
    assert REASON in mina.get(given.headers["Location"]).content.decode()


def test_who_is_screened_meets_nothing_in_the_way(mina, library, form):
    address, sent = form
    assert "screening_reason" not in mina.get(f"{address}&template=none").content.decode()
    assert mina.post(address, sent).status_code == 302


def test_the_list_of_answers_takes_the_same_queries_at_one_row_and_four(mina, cast, page, unasked, django_assert_num_queries):
    mina.post(page, FINE)
    mina.get(page)
    with django_assert_num_queries(6):   # session, user, client, count, rows with who asked, the newest
        mina.get(page)
    for _ in range(3):
        mina.post(page, FINE)
    mina.get(page)
    with django_assert_num_queries(6):
        mina.get(page)


def test_the_api_takes_and_gives_them(mina, cast, unasked):
    address = reverse("api:client-screenings", args=[cast.ada.public_id])
    told = {"active": False, "intensity": "vigorous", "diseases": [], "signs": ["breath"], "red_flags": []}
    bad = mina.post(address, told | {"signs": ["gout"]}, content_type="application/json")
    assert bad.status_code == 400
    assert "signs" in str(bad.json()["errors"])
    made = mina.post(address, told, content_type="application/json")
    assert made.status_code == 201
    assert [row["signs"] for row in mina.get(address).json()["results"]] == [["breath"]]
