"""My weeks: the band, the phases in sentences, week by week."""

import uuid
from datetime import date, timedelta

import pytest

from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.log_session import log_session
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.prescribing.queries import newest_revision
from programs.prescribing.rules.plan import PhasePlan, Span
from tests.portal.conftest import items


@pytest.fixture
def did(cast, program):
    """did(day, now) logs a whole session."""

    def logged(day, now):
        entry = SessionEntry(
            log_id=uuid.uuid4(), edit=0, revision=newest_revision(program).public_id, day=day,
            items=tuple(ItemEntry(item.key, 110, 110) for item in items(3)),
        )
        log_session(by=cast.ada.user, program=program, entry=entry, now=now)

    return logged


def test_the_ribbon_and_the_phases_say_when_it_scales_back(cast, program, browse):
    page = " ".join(browse(cast.ada.user).get("/portal/weeks/").content.decode().split())
    assert '<svg class="ribbon"' in page
    assert "28 February to 6 March. 1 to 2 sessions a day, every day." in page
    assert "Then it changes by itself on 7 March." in page
    assert "7 March to 20 March. 1 session a day, 3 days a week." in page
    assert "From 21 March on. 1 session a day, 2 days a week." in page
    assert page.count("you are here") == 1


def test_a_phase_that_waits_for_the_clinician_says_so(cast, prescribe, browse):
    kick_off = PhasePlan("kick_off", 7, Span(1, 2), advance="by_decision")
    prescribe(phases=(kick_off, PhasePlan("maintenance", None, Span(1, 1))))
    page = browse(cast.ada.user).get("/portal/weeks/").content.decode()
    assert "Your clinician decides when you move on" in page
    assert "Later, when your clinician says so." in page


def test_a_week_done_and_a_week_of_silence_read_differently(cast, program, browse, did, clock, now):
    for offset in range(7):
        did(date(2026, 3, 2) + timedelta(days=offset), now + timedelta(days=offset))
    later = now + timedelta(days=10)
    clock.move_to(later)
    follow_programs(now=later)
    page = " ".join(browse(cast.ada.user).get("/portal/weeks/").content.decode().split())
    rows = [row for row in page.split("<tr>") if "row" in row][0:]
    this, last, first = [row for row in rows if 'scope="row"' in row]
    assert "9 March to 15 March" in this
    assert "Not heard from you" in this
    assert "Well kept up" in last
    assert "Not heard from you" in first
    assert "2 asked" in first   # Saturday and Sunday


def test_paused_days_do_not_count(cast, program, browse, clock, now):
    from programs.prescribing.actions.pause_program import pause_program

    pause_program(by=cast.mina.user, program=program, reason="Ill", now=now)
    clock.move_to(now + timedelta(days=7))
    follow_programs(now=now + timedelta(days=7))
    page = browse(cast.ada.user).get("/portal/weeks/").content.decode()
    assert "Paused" in page


def test_without_a_program_there_is_a_kind_empty_page(cast, browse):
    assert "You have no home program yet" in browse(cast.ada.user).get("/portal/weeks/").content.decode()


@pytest.mark.parametrize("weeks", [1, 3])
def test_the_page_costs_the_same_for_one_week_and_three(
    cast, prescribe, browse, clock, now, django_assert_num_queries, weeks
):
    prescribe(starts=now.date())
    later = now + timedelta(days=7 * (weeks - 1))
    clock.move_to(later)
    follow_programs(now=later)
    browser = browse(cast.ada.user)
    with django_assert_num_queries(17):
        page = browser.get("/portal/weeks/").content.decode()
    assert page.count('scope="row"') == weeks


def test_a_long_program_is_paged(cast, prescribe, browse, clock, now):
    prescribe(starts=now.date())
    clock.move_to(now + timedelta(weeks=20))
    browser = browse(cast.ada.user)
    assert browser.get("/portal/weeks/").content.decode().count('scope="row"') == 6
    assert browser.get("/portal/weeks/?page=4").content.decode().count('scope="row"') == 3
