"""The pages of visits: the list, booking, recording a visit, measures."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment
from clinic.people.actions.open_episode import open_episode
from clinic.visits import queries, views
from clinic.visits.actions.record_visit import Measured, record_visit
from clinic.visits.models import Reassessment, Result, Visit

TODAY = date(2026, 3, 2)
WINDOW = {"earliest": date(2026, 2, 18), "due": date(2026, 2, 20), "latest": date(2026, 2, 27)}


@pytest.fixture(autouse=True)
def _nine_o_clock(now):
    with time_machine.travel(now, tick=False):
        yield


def words(answer) -> str:
    text = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", text)


def test_the_desk_sees_who_is_overdue_and_since_when_with_openings_ready(cast, look, browse):
    look(**WINDOW)
    answer = browse(cast.desk.user).get("/reassessments/")
    text = words(answer)
    assert "Ada Quill" in text
    assert "overdue by 10 days" in text
    assert "Mon 2 Mar, 09:00" in text
    assert "Tue 3 Mar, 09:00" in text


def test_an_opening_on_the_list_books_with_one_press(cast, look, browse):
    row = look(**WINDOW)
    browser = browse(cast.desk.user)
    page = browser.get("/reassessments/").content.decode()
    start, clinician = (re.search(rf'name="{name}" value="([^"]+)"', page)[1] for name in ("start", "clinician"))
    answer = browser.post(f"/reassessments/{row.public_id}/book/", {"start": start, "clinician": clinician}, follow=True)
    assert "Booked for Mon 2 Mar, 09:00 with Mina." in words(answer)
    row.refresh_from_db()
    assert row.appointment.starts == datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    booked = browser.get("/reassessments/?state=booked")
    assert "booked for Mon 2 Mar, 09:00" in words(booked)
    assert f'href="/booking/{row.appointment.public_id}/"' in booked.content.decode()
    assert browser.get(f"/booking/{row.appointment.public_id}/").status_code == 200


def test_filters_say_how_many_are_in_each_state(cast, look, browse):
    look(**WINDOW)
    look(TODAY, reason="interval")
    look(TODAY + timedelta(days=5), reason="flag")
    look(TODAY + timedelta(days=50), episode=cast.bo_neck)
    browser = browse(cast.desk.user)
    text = words(browser.get("/reassessments/"))
    assert "Overdue 1 Due 1 Due soon 1 Later 1 Booked 0 Done 0 All open 4" in text
    assert "due today" in words(browser.get("/reassessments/?state=due"))
    assert "due soon, from 7 Mar" in words(browser.get("/reassessments/?state=due_soon"))
    assert "not yet, from 21 Apr" in words(browser.get("/reassessments/?state=not_yet"))
    assert "Overdue: 1" in words(browser.get("/reassessments/?state=sideways"))


def test_a_clinician_sees_their_own_and_the_lead_may_look_but_not_book(cast, look, browse):
    look(**WINDOW)
    assert "Ada Quill" in words(browse(cast.mina.user).get("/reassessments/"))
    assert "Nobody is overdue." in words(browse(cast.theo.user).get("/reassessments/"))
    lead = words(browse(cast.lead.user).get("/reassessments/"))
    assert "overdue by 10 days" in lead
    assert "More times" not in lead


def test_the_list_costs_the_same_for_one_and_three(cast, look, browse, django_assert_num_queries):
    browser = browse(cast.desk.user)
    look(**WINDOW)
    browser.get("/reassessments/")
    with django_assert_num_queries(14):
        assert words(browser.get("/reassessments/")).count("overdue by") == 1
    look(**WINDOW, reason="interval")
    look(**WINDOW, episode=cast.bo_neck)
    with django_assert_num_queries(14):
        assert words(browser.get("/reassessments/")).count("overdue by") == 3


def test_the_list_is_paged(cast, look, browse):
    for number in range(16):
        episode = open_episode(
            by=cast.mina.user, client=cast.ada, lead=cast.mina, region="hip", complaint=f"C{number}", opened=TODAY,
            now=datetime(2026, 3, 2, 9, tzinfo=UTC),
        )
        look(**WINDOW, episode=episode)
    browser = browse(cast.desk.user)
    assert words(browser.get("/reassessments/")).count("overdue by") == 15
    assert words(browser.get("/reassessments/?page=2")).count("overdue by") == 1


def test_a_client_of_the_desk_has_openings_inside_the_window_first(cast, look, browse):
    row = look(TODAY + timedelta(days=8), earliest=TODAY + timedelta(days=7), latest=TODAY + timedelta(days=9))
    text = words(browse(cast.desk.user).get(f"/reassessments/{row.public_id}/book/"))
    assert text.index("Inside the window") < text.index("Mon 9 Mar, 09:00") < text.index("Outside the window")


def test_openings_to_choose_from_stand_in_the_order_of_the_calendar(cast, look, browse, monkeypatch):
    """However they rank: the best ones are offered, and read as a calendar is."""
    original = views.offers_to_choose
    monkeypatch.setattr(views, "offers_to_choose", lambda *args, **named: original(*args, **named)[::-1])
    row = look(TODAY - timedelta(days=9), earliest=TODAY - timedelta(days=12), latest=TODAY - timedelta(days=5))
    page = browse(cast.desk.user).get(f"/reassessments/{row.public_id}/book/").content.decode()
    starts = re.findall(r'name="start" value="([^"]+)"', page)
    assert len(starts) == 24
    assert starts == sorted(starts)


@pytest.mark.parametrize("start", ["", "soon", "2026-03-03T10:00"])
def test_a_start_that_is_none_is_refused(cast, look, browse, start):
    row = look(**WINDOW)
    answer = browse(cast.desk.user).post(
        f"/reassessments/{row.public_id}/book/", {"start": start, "clinician": cast.mina.public_id}
    )
    assert answer.status_code == 400
    assert "Choose one of the openings." in words(answer)
    assert not Appointment.objects.exists()


def test_a_time_taken_meanwhile_is_said_and_new_openings_are_shown(cast, look, browse, now):
    row = look(**WINDOW)
    start = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)
    book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=now)
    answer = browse(cast.desk.user).post(
        f"/reassessments/{row.public_id}/book/", {"start": start.isoformat(), "clinician": cast.mina.public_id}
    )
    assert answer.status_code == 409
    assert "Mina already has a visit at that time." in words(answer)
    assert "The window has passed." in words(answer)
    assert "Tue 3 Mar, " in words(answer)
    assert "Tue 3 Mar, 10:00" not in words(answer)


def test_a_clinician_cannot_book_a_colleagues_time(cast, look, browse):
    row = look(**WINDOW)
    answer = browse(cast.mina.user).post(
        f"/reassessments/{row.public_id}/book/", {"start": "2026-03-03T10:00:00+00:00", "clinician": cast.theo.public_id}
    )
    assert answer.status_code == 404
    assert not Appointment.objects.exists()


def test_anyone_at_the_site_can_be_asked_for(cast, look, browse):
    row = look(**WINDOW)
    page = f"/reassessments/{row.public_id}/book/"
    browser = browse(cast.desk.user)
    assert "with Theo" not in words(browser.get(page))
    assert "with Theo" in words(browser.get(page, {"with": "any", "from": "2026-03-05"}))
    assert "Mon 2 Mar" not in words(browser.get(page, {"with": "any", "from": "2026-03-05"}))


def test_a_withdrawn_one_offers_nothing(cast, look, browse):
    row = look(**WINDOW, status="withdrawn")
    text = words(browse(cast.desk.user).get(f"/reassessments/{row.public_id}/book/"))
    assert "There is nothing to book here: withdrawn." in text


def new_visit(cast):
    return f"/visits/new/?episode={cast.ada_hip.public_id}"


def test_a_clinician_records_a_visit_with_measures(cast, measures, browse):
    answer = browse(cast.mina.user).post(
        new_visit(cast), {"note": "Moves better.", "pain-now.none.1": "3,5", "hip-flexion.left.1": "105"}, follow=True
    )
    text = words(answer)
    assert "The visit is recorded." in text
    assert "3.5 points" in text
    assert "105°" in text
    assert "Moves better." in text
    assert Visit.objects.get().results.count() == 2


def test_what_was_typed_is_kept_when_something_is_wrong(cast, measures, browse):
    typed = {"note": "A long note.", "pain-now.none.1": "12", "quickdash.none.1": "2", "hip-flexion.left.1": "105"}
    answer = browse(cast.mina.user).post(new_visit(cast), typed)
    page, text = answer.content.decode(), words(answer)
    assert answer.status_code == 400
    assert "Nothing was saved." in text
    assert "Numeric pain rating goes from 0 to 10, not 12." in text
    assert "QuickDASH needs at least 10 of its 11 items; 1 are there." in text
    assert "A long note." in page
    for name, value in list(typed.items())[1:]:
        assert re.search(rf'name="{name}"[^>]* value="{value}"', page)
    assert not Visit.objects.exists()
    assert not Result.objects.exists()


def test_letters_where_a_number_belongs_are_named_with_all_else_that_is_wrong(cast, measures, browse):
    answer = browse(cast.mina.user).post(
        new_visit(cast), {"note": "x", "pain-now.none.1": "<b>bad</b>", "hip-flexion.left.1": "999"}
    )
    assert "Hip flexion, passive range goes from -30 to 180, not 999." in words(answer)
    assert answer.status_code == 400
    assert "“&lt;b&gt;bad&lt;/b&gt;” is not a number." in answer.content.decode()


def test_a_visit_of_the_book_is_offered_and_recorded_once(cast, browse, now):
    booked = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=now, now=now,
        episode=cast.ada_hip,
    )
    browser = browse(cast.mina.user)
    assert "Mon 2 Mar, 09:00, Follow-up" in words(browser.get(new_visit(cast)))
    given = {"note": "Seen.", "appointment": str(booked.public_id)}
    assert browser.post(new_visit(cast), given).status_code == 302
    again = browser.post(new_visit(cast), given)
    assert again.status_code == 400
    assert "recorded already" in words(again)
    assert Visit.objects.get().appointment == booked


@pytest.mark.parametrize("episode", ["", "nonsense", "00000000-0000-4000-8000-000000000000"])
def test_no_such_episode_is_not_found(cast, browse, episode):
    assert browse(cast.mina.user).get(f"/visits/new/?episode={episode}").status_code == 404


def test_measures_say_what_changed_and_where_the_bounds_are_from(cast, measures, browse, now):
    for week, (pain, left, right) in enumerate([(7, 90, 120), (4, 108, 120)]):
        record_visit(
            by=cast.mina.user, episode=cast.ada_hip, note="", now=now + timedelta(weeks=week),
            results=[
                Measured(queries.measure("pain-now"), [pain]), Measured(queries.measure("hip-flexion"), [left], "left"),
                Measured(queries.measure("hip-flexion"), [right], "right"),
            ],
        )
    text = words(browse(cast.lead.user).get(f"/episodes/{cast.ada_hip.public_id}/measures/"))
    assert "improved beyond MCID" in text
    assert "Down 3 points since 2 March 2026: from 7 to 4 points." in text
    assert "(MDC) 2 points (95 % confidence)" in text
    assert "Childs JD et al. 2005" in text
    assert "Up 18° since 2 March 2026: from 90 to 108°." in text
    assert "The smaller side is 90 % of the larger one." in text


def test_measures_stand_beside_people_of_the_same_age_and_beside_the_error(cast, measures, browse, now):
    cast.ada.birth_date = now.date().replace(year=now.year - 66)
    cast.ada.save()
    for week, (stands, score, left, right) in enumerate([(10, 3, 7.0, 9.5), (14, 6, 7.0, 9.0)]):
        record_visit(
            by=cast.mina.user, episode=cast.ada_hip, note="", now=now + timedelta(weeks=week),
            results=[
                Measured(queries.measure("chair-stand-30s"), [stands]),
                Measured(queries.measure("psfs"), [score] * 3),
                Measured(queries.measure("lunge-distance"), [left], "left"),
                Measured(queries.measure("lunge-distance"), [right], "right"),
                Measured(queries.measure("hip-flexion"), [120], "left"),
            ],
        )
    text = words(browse(cast.mina.user).get(f"/episodes/{cast.ada_hip.public_id}/measures/"))
    assert "Women of 65 to 69: within the middle half, 11 to 16 stands; roughly 55th percentile; not below the" in text
    assert "Men of 65 to 69: within the middle half, 12 to 18 stands; roughly 41st percentile" in text
    assert "Women of 45 to 69: 10.8° below the mean of 130.8°." in text
    assert "Reliable change index 2.5, beyond 1.96" in text
    assert "The difference of 2 cm is beyond error, which ends at 1.5 cm." in text
    assert "Rikli RE, Jones CJ 1999" in text
    cast.ada.birth_date = None
    cast.ada.save()
    text = words(browse(cast.mina.user).get(f"/episodes/{cast.ada_hip.public_id}/measures/"))
    assert "Beside people of that age" not in text


def test_the_measures_page_costs_the_same_for_one_and_three(cast, measures, browse, django_assert_num_queries, now):
    browser, address = browse(cast.mina.user), f"/episodes/{cast.ada_hip.public_id}/measures/"
    browser.get(address)   # the first request of a session writes when it began
    for count in (1, 3):
        while Visit.objects.count() < count:
            record_visit(
                by=cast.mina.user, episode=cast.ada_hip, note="Seen.", now=now,
                results=[Measured(queries.measure("pain-now"), [4]), Measured(queries.measure("psfs"), [4, 5, 6])],
            )
        with django_assert_num_queries(8):
            assert words(browser.get(address)).count("Seen.") == count


IDS = re.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")   # drawn anew each time: any figures may stand in them


def test_the_desk_never_sees_a_value_or_a_note(cast, look, measures, browse, now):
    record_visit(
        by=cast.mina.user, episode=cast.ada_hip, note="Private words.", now=now,
        results=[Measured(queries.measure("hip-flexion"), [117], "left")],
    )
    row = look(**WINDOW)
    browser = browse(cast.desk.user)
    for address in (
        "/reassessments/?state=all", f"/reassessments/{row.public_id}/book/", f"/clients/{cast.ada.public_id}/",
        "/api/v1/reassessments",
    ):
        page = IDS.sub("", browser.get(address).content.decode())
        for private in ("Private words", "117", "flexion", "Stiff left hip"):
            assert private not in page
    assert browser.get(f"/episodes/{cast.ada_hip.public_id}/measures/").status_code == 404
    assert browser.get(new_visit(cast)).status_code == 404


def test_the_clients_page_shows_what_is_due(cast, look, browse):
    look(**WINDOW)
    text = words(browse(cast.desk.user).get(f"/clients/{cast.ada.public_id}/"))
    assert "overdue by 10 days" in text
    assert "Book it" in text
    assert Reassessment.objects.count() == 1
