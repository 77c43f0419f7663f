"""Today: what is asked of Ada, in each state a program can be in."""

import uuid
from datetime import date, timedelta

import pytest

from programs.following.actions.raise_alert import raise_alert
from programs.library.models import Exercise
from programs.library.rules.dose import Span
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.rules.plan import PhasePlan


def test_ada_sees_phase_day_sessions_minutes_and_her_exercises(cast, program, browse):
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Hello <bdi>Ada</bdi>" in page
    assert "Kick-off, day 3 of 7" in page
    assert "0 of 1 to 2" in page
    # seconds with set-up and the change of side: the lean 165 to 245, the lift 110, the roll 80; 355 to 435 in all
    assert "about 6 to 8 minutes, the whole day about 6 to 15." in " ".join(page.split())
    assert page.count('class="card exercise"') == 3
    for words in ("Half-kneeling lean", "First left, then right", "Left side only", "A pull in front",
                  "A pinch in the back", "Breathe out slowly", "From your clinician: Keep it small"):
        assert words in page, words
    assert '<svg' in page
    assert "/portal/session/?program=" in page


def test_the_stop_rules_name_her_clinician_and_the_emergency_number_of_the_site(cast, program, browse):
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Mina wrote this program for you" in page
    assert 'href="tel:999"' in page
    assert "above 5 out of 10" in page
    assert "/portal/help/" in page


def test_without_a_program_she_is_told_kindly(cast, browse):
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "You have no home program yet" in page
    assert "Start</a>" not in page


def test_before_the_first_day_she_sees_when_it_starts(cast, prescribe, browse):
    prescribe(starts=date(2026, 3, 5))
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Your program starts on Thursday 5 March" in page
    assert "Half-kneeling lean" in page
    assert ">Start</a>" not in page


def test_a_rest_day_says_when_the_next_session_is(cast, prescribe, browse):
    prescribe(starts=date(2026, 3, 1), phases=(PhasePlan("maintenance", None, Span(1, 1), days_per_week=2),))
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Today is a rest day" in page
    assert "Your next session is on Wednesday 4 March" in page


def test_a_paused_program_asks_nothing(cast, program, browse, now):
    pause_program(by=cast.mina.user, program=program, reason="Holiday", now=now)
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Your program is paused" in page
    assert "Mina will tell you when to go on" in page
    assert "Half-kneeling lean" not in page
    assert "Holiday" not in page


def test_a_finished_program_thanks_her(cast, program, browse, now):
    end_program(by=cast.mina.user, program=program, status="completed", now=now)
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Your program is over" in page


def test_an_open_red_flag_stands_above_everything(cast, program, browse, now):
    raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid.uuid4(), flag="chest_pain", now=now)
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Please stop for now" in page
    assert "Half-kneeling lean" not in page
    assert ">Start</a>" not in page


def test_the_day_is_the_one_where_she_is(cast, program, browse, clock, now):
    cast.ada.zone = "Pacific/Auckland"
    cast.ada.save()
    clock.move_to(now.replace(hour=12))   # one in the morning of the third, in Auckland
    assert "Kick-off, day 4 of 7" in browse(cast.ada.user).get("/portal/").content.decode()


def test_another_clients_program_is_not_there(cast, program, browse):
    assert browse(cast.ada.user).get(f"/portal/?program={program.public_id}").status_code == 200
    assert browse(cast.bo.user).get(f"/portal/?program={program.public_id}").status_code == 404
    assert browse(cast.ada.user).get("/portal/?program=nonsense").status_code == 404


def test_of_two_programs_she_can_choose(cast, program, prescribe, browse, now):
    second = type(cast.ada_hip).objects.create(
        client=cast.ada, lead=cast.theo, region="neck", side="both", complaint="Neck", opened=now.date()
    )
    other = prescribe(episode=second, title="Neck at home", starts=now.date(), count=1)
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Now you see “Neck at home”" in page
    assert "Theo wrote this program" in page
    assert f"/portal/?program={program.public_id}" in page
    assert "Now you see “Hip at home”" in browse(cast.ada.user).get(f"/portal/?program={program.public_id}").content.decode()
    assert other.public_id != program.public_id


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_exercise_and_three(cast, prescribe, browse, django_assert_num_queries, count):
    prescribe(count=count)
    browser = browse(cast.ada.user)
    with django_assert_num_queries(13):
        assert browser.get("/portal/").status_code == 200


def test_looking_never_writes(cast, program, browse, writes):
    browser = browse(cast.ada.user)
    for path in ("", "session/", "morning/", "weeks/", "visits/", "help/", "help/stop/", "app.webmanifest",
                 f"session/saved/{program.public_id}/"):
        with writes() as made:
            assert browser.get(f"/portal/{path}").status_code == 200, path
        assert made.found() == [], path


def test_hostile_words_are_inert(cast, prescribe, browse, exercises):
    exercises[0].name = "<script>alert(1)</script>"
    exercises[0].save()
    cast.ada.given_name = "<img src=x onerror=y>"
    cast.ada.save()
    prescribe(title="</title><b>")
    for path in ("/portal/", "/portal/session/", "/portal/weeks/"):
        page = browse(cast.ada.user).get(path).content.decode()
        assert "<script>alert" not in page
        assert "<img src=x" not in page
        assert "</title><b>" not in page


def test_days_after_the_kick_off_count_in_the_next_phase(cast, program, browse, clock, now):
    clock.move_to(now + timedelta(days=5))
    page = browse(cast.ada.user).get("/portal/").content.decode()
    assert "Taper, day 1 of 14" in page


def test_a_walk_has_no_sides_to_speak_of(cast, program, browse):
    """The lift is done with both sides together; once it is of the aerobic kind, nothing is said of sides."""
    ada = browse(cast.ada.user)
    assert ada.get("/portal/").content.decode().count("Both sides together") == 1
    Exercise.objects.filter(slug="hip-lift").update(kind="aerobic")
    page = ada.get("/portal/").content.decode()
    assert "Both sides together" not in page
    assert "First left, then right" in page
