"""The first round: each role's stops are pages it may open, it can be left at any stop, and taken again."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.people.actions.go_round import go_round
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.tour import ROUNDS

pytestmark = pytest.mark.django_db


def new(user):
    User.objects.filter(pk=user.pk).update(tour_stop=1)
    user.refresh_from_db()
    return user


@pytest.mark.parametrize("who", ["desk", "mina", "lead"])
def test_the_round_leads_through_pages_that_the_role_may_open_to_its_end(cast, browse, who):
    user = new(getattr(cast, who).user)
    browser, stops = browse(user), ROUNDS[user.role]
    at = "/"
    for number, stop in enumerate(stops, 1):
        answer = browser.get(at, follow=True)
        assert answer.status_code == 200
        assert answer.context["tour"]["stop"] == stop
        text = answer.content.decode()
        assert f"{number} of {len(stops)}: {stop.title}." in text
        onward = number + 1 if number < len(stops) else 0
        sent = browser.post("/round/", {"stop": onward, "back": stop.url})
        assert sent.status_code == 302
        at = sent.url
    assert at == stops[-1].url
    user.refresh_from_db()
    assert user.tour_stop == 0
    assert browser.get(at).context["tour"] is None


def test_elsewhere_the_panel_only_leads_back(cast, browse):
    browser = browse(new(cast.desk.user))
    page = browser.get("/clients/")
    assert page.context["tour"]["here"] is False
    text = page.content.decode()
    assert "On with the round" in text
    assert ROUNDS["front_desk"][0].words not in text


def test_leaving_stays_on_the_page_and_it_can_be_taken_again(cast, browse):
    browser = browse(new(cast.desk.user))
    assert browser.post("/round/", {"stop": "0", "back": "/clients/"}).url == "/clients/"
    page = browser.get("/clients/").content.decode()
    assert "First round" not in page
    assert "Show me round" in page
    assert browser.post("/round/", {"stop": "1"}).url == "/booking/"
    assert browser.get("/booking/").context["tour"]["number"] == 1


@pytest.mark.parametrize("stop", ["6", "-1", "x", "", "999", "\u0663"])
def test_a_stop_that_there_is_not_is_refused_and_nothing_moves(cast, browse, stop):
    user = new(cast.desk.user)
    answer = browse(user).post("/round/", {"stop": stop}, follow=True)
    assert "The round has 5 stops." in answer.content.decode()
    user.refresh_from_db()
    assert user.tour_stop == 1


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_it_never_leads_out_of_the_house(cast, browse, back):
    assert browse(new(cast.desk.user)).post("/round/", {"stop": "0", "back": back}).url == "/booking/"


def test_a_client_has_no_round(cast):
    with pytest.raises(NotThere):
        go_round(by=cast.ada.user, stop=1)
    with pytest.raises(Refusal):
        go_round(by=cast.desk.user, stop=9)


def test_the_panel_asks_the_database_nothing(cast, browse):
    user = new(cast.lead.user)
    counts = []
    for stop in (1, 0):
        User.objects.filter(pk=user.pk).update(tour_stop=stop)
        browser = browse(user)
        with CaptureQueriesContext(connection) as seen:
            browser.get("/clients/")
        counts.append(len(seen))
    assert counts[0] == counts[1]
