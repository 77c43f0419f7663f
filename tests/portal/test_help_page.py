"""Something is wrong: one tap, and the screen that says stop."""

import uuid

import pytest

from clinic.reminders.models import Message
from programs.following.models import Alert
from programs.following.vocab import RedFlag


def test_every_red_flag_is_one_tap_with_its_own_number(cast, program, browse):
    page = browse(cast.ada.user).get("/portal/help/")
    flags = page.context["flags"]
    assert {flag for flag, _, _ in flags} == set(RedFlag.values)
    assert len({answer_id for _, _, answer_id in flags}) == len(flags)
    assert page.content.decode().count('class="flag"') == len(flags)
    assert 'href="tel:999"' in page.content.decode()


@pytest.mark.parametrize("flag", RedFlag.values)
def test_a_tap_tells_the_clinic_and_says_stop(cast, program, browse, flag):
    answer = browse(cast.ada.user).post("/portal/help/", {"answer_id": uuid.uuid4(), "flag": flag}, follow=True)
    page = answer.content.decode()
    assert answer.redirect_chain == [("/portal/help/stop/", 302)]
    assert "Stop now" in page
    assert "Call 999 now" in page
    assert "+44\u00a01632\u00a0960100" in page
    assert "We have told Harbour Lane and your clinician" in page
    alert = Alert.objects.get()
    assert (alert.client, alert.program, alert.flag, alert.closed_at) == (cast.ada, program, flag, None)
    assert Message.objects.filter(kind="red_flag").count() == 2   # the desk and Mina


def test_a_second_tap_of_the_same_question_counts_once(cast, program, browse):
    data = {"answer_id": uuid.uuid4(), "flag": "calf_swelling"}
    browser = browse(cast.ada.user)
    for _ in range(2):
        assert browser.post("/portal/help/", data).status_code == 302
    assert Alert.objects.count() == 1
    assert Message.objects.filter(kind="red_flag").count() == 2


@pytest.mark.parametrize(
    "data", [{}, {"flag": "chest_pain"}, {"answer_id": "x", "flag": "chest_pain"}, {"answer_id": uuid.uuid4(), "flag": "sad"}]
)
def test_even_a_broken_answer_gets_the_stop_screen(cast, browse, data):
    answer = browse(cast.ada.user).post("/portal/help/", data)
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "Call 999 now" in page
    assert "We could not tell the clinic for you." in page
    assert Alert.objects.count() == 0


def test_a_number_that_belongs_to_somebody_else_still_gets_the_stop_screen(cast, browse):
    data = {"answer_id": uuid.uuid4(), "flag": "chest_pain"}
    browse(cast.bo.user).post("/portal/help/", data)
    answer = browse(cast.ada.user).post("/portal/help/", data)
    assert "Call 999 now" in answer.content.decode()
    assert "We could not tell the clinic for you." in answer.content.decode()
    assert Alert.objects.get().client == cast.bo


def test_the_way_out_is_on_every_screen(cast, program, browse):
    browser = browse(cast.ada.user)
    for path in ("/portal/", "/portal/session/", "/portal/morning/", "/portal/weeks/", "/portal/visits/",
                 f"/portal/session/saved/{program.public_id}/"):
        page = browser.get(path).content.decode()
        assert page.count('href="/portal/help/"') >= 2, path   # in the bar, and at the end of the page
