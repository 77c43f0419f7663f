"""My visits: in whose time, and cancelling."""

from datetime import UTC, datetime, timedelta

import pytest

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, Claim


@pytest.fixture
def visit(cast, now):
    """visit(days=…, client=…) books a follow-up at ten."""

    def booked(*, days=1, client=None, clinician=None, hour=10):
        start = (now + timedelta(days=days)).replace(hour=hour)
        return book_visit(
            by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=clinician or cast.mina,
            start=start, now=now,
        )

    return booked


def test_a_coming_visit_is_shown_in_the_time_of_the_site(cast, visit, browse):
    visit(days=2)
    page = browse(cast.ada.user).get("/portal/visits/").content.decode()
    assert "Wednesday 4 March, 10:00" in page
    assert "Follow-up with Mina, 30 minutes, at Harbour Lane." in page
    assert "For you in" not in page
    assert 'href="tel:+441632960100"' in page


def test_a_client_elsewhere_reads_both_times(cast, visit, browse):
    cast.ada.zone = "America/New_York"
    cast.ada.save()
    visit(days=2)
    page = browse(cast.ada.user).get("/portal/visits/").content.decode()
    assert "Wednesday 4 March, 10:00" in page
    assert "For you in New York it is Wednesday 4 March, 05:00." in page


def test_past_visits_are_short(cast, visit, browse, clock, now):
    visit(days=1)
    clock.move_to(now + timedelta(days=3))
    page = browse(cast.ada.user).get("/portal/visits/").content.decode()
    assert "No visit is booked." in page
    assert "Tuesday 3 March, 10:00: Follow-up with Mina" in page


def test_cancelling_is_asked_about_and_frees_the_time(cast, visit, browse, writes):
    booked = visit()
    browser = browse(cast.ada.user)
    with writes() as made:
        page = browser.get(f"/portal/visits/{booked.public_id}/cancel/").content.decode()
    assert made.found() == []
    assert "Do you want to cancel this visit?" in page
    answer = browser.post(f"/portal/visits/{booked.public_id}/cancel/", follow=True)
    assert "Your visit is cancelled." in answer.content.decode()
    assert Appointment.objects.get().status == "cancelled"
    assert Claim.objects.count() == 0


def test_cancelling_twice_changes_nothing_more(cast, visit, browse):
    booked = visit()
    browser = browse(cast.ada.user)
    for _ in range(2):
        assert browser.post(f"/portal/visits/{booked.public_id}/cancel/").status_code == 302
    assert Appointment.objects.get().version == 2


def test_a_visit_that_has_begun_cannot_be_cancelled_here(cast, visit, browse, clock):
    booked = visit()
    clock.move_to(datetime(2026, 3, 3, 10, 5, tzinfo=UTC))
    answer = browse(cast.ada.user).post(f"/portal/visits/{booked.public_id}/cancel/")
    assert answer.status_code == 409
    assert "This visit has already begun." in answer.content.decode()
    assert Appointment.objects.get().status == "booked"


def test_another_clients_visit_is_not_there(cast, visit, browse):
    booked = visit(client=cast.bo, clinician=cast.theo)
    browser = browse(cast.ada.user)
    assert browser.get(f"/portal/visits/{booked.public_id}/cancel/").status_code == 404
    assert browser.post(f"/portal/visits/{booked.public_id}/cancel/").status_code == 404
    assert Appointment.objects.get().status == "booked"
    assert "Theo" not in browser.get("/portal/visits/").content.decode()


@pytest.mark.parametrize("count", [1, 3])
def test_the_page_costs_the_same_for_one_visit_and_three(cast, visit, browse, django_assert_num_queries, count):
    for day in range(count):
        visit(days=day + 1)
    browser = browse(cast.ada.user)
    with django_assert_num_queries(11):
        page = browser.get("/portal/visits/").content.decode()
    assert page.count("I cannot come") == count


def test_many_visits_are_paged(cast, visit, browse):
    for day in (1, 2, 3, 4, 7, 8, 9, 10, 11, 14, 15):
        visit(days=day)
    assert browse(cast.ada.user).get("/portal/visits/").content.decode().count("I cannot come") == 10
    assert browse(cast.ada.user).get("/portal/visits/?page=2").content.decode().count("I cannot come") == 1


def test_a_spanish_client_reads_what_the_practice_calls_the_visit_in_spanish(cast, visit, browse):
    cast.follow_up.names = {"es": "Seguimiento"}
    cast.follow_up.save()
    cast.ada.language = "es-AR"
    cast.ada.save()
    visit()
    page = browse(cast.ada.user).get("/portal/visits/").content.decode()
    assert "Seguimiento con Mina, " in page
    assert "Follow-up" not in page
    assert [row["visit_type"] for row in browse(cast.ada.user).get("/api/v1/me/visits").json()["results"]] == ["Seguimiento"]


def test_without_such_a_name_it_is_called_by_the_one_it_has(cast, visit, browse):
    cast.ada.language = "es"
    cast.ada.save()
    visit()
    assert "Follow-up con Mina" in browse(cast.ada.user).get("/portal/visits/").content.decode()
