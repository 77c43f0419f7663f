"""Places for the reviews of twelve weeks, and what is missing where not all of them fit."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, WorkingHours
from clinic.people.models import Client, Episode
from clinic.people.rules import zones
from clinic.reminders.models import Message
from clinic.visits.models import Reassessment
from clinic.visits.review_plan import SOON, plan_reviews
from clinic.visits.rules.shortage import Missing, missing
from tests.conftest import NOW

WEDNESDAY = date(2026, 3, 11)
PAGE = "/reassessments/plan/"


@pytest.fixture
def many(cast, look):
    """many(count, due, lead=Mina, …) -> that many clients with a review due on one day."""

    def made(count, due, lead=None, **window):
        found = []
        for number in range(count):
            client = Client.objects.create(
                site=cast.site, given_name=f"{due:%d}{number}", family_name="Lee", zone="UTC", registered=NOW
            )
            episode = Episode.objects.create(
                client=client, lead=lead or cast.mina, region="hip", side="left", complaint="Stiff", opened=NOW.date()
            )
            found.append(look(due, episode=episode, **window))
        return found

    return made


def test_each_is_placed_inside_its_window_with_who_leads(cast, many, now):
    many(3, WEDNESDAY, earliest=WEDNESDAY - timedelta(days=1), latest=WEDNESDAY + timedelta(days=1))
    many(2, WEDNESDAY, cast.theo)
    plan = plan_reviews(cast.desk.user, cast.site, now)
    assert (plan.placed, plan.missing, plan.proven, plan.lacking) == (5, [], True, 0)
    for line in plan.lines:
        assert line.clinician == line.row.episode.lead
        assert line.row.earliest <= zones.day_in(line.starts, cast.site.zone) <= line.row.latest
    taken = {(line.clinician.pk, line.starts) for line in plan.lines}
    assert len(taken) == 5


def test_what_does_not_fit_is_told_in_hours_by_clinician_and_week(cast, many, now):
    """By hand: a review takes 50 minutes with its clean-up, so nine fit into Mina's eight hours of one day."""
    many(11, WEDNESDAY)
    many(1, date(2026, 3, 18), cast.theo)
    plan = plan_reviews(cast.desk.user, cast.site, now)
    assert (plan.placed, plan.minutes, plan.lacking) == (10, 50, 100)
    assert plan.missing == [(cast.mina, Missing(cast.mina.pk, date(2026, 3, 9), 2, 100))]
    assert {line.why_not for line in plan.lines if line.starts is None} == {"needed_by_others"}


def test_with_that_much_more_time_all_fit(cast, many, now):
    many(11, WEDNESDAY)
    WorkingHours.objects.create(
        clinician=cast.mina, site=cast.site, rule="FREQ=DAILY;COUNT=1", first_day=WEDNESDAY, starts=time(18),
        ends=time(19, 40),
    )
    assert plan_reviews(cast.desk.user, cast.site, now).placed == 11


def test_one_far_from_its_day_is_better_than_one_without_a_place(cast, many, now):
    """Nine fit into a day: the tenth goes to the end of its window, however much further that is for it."""
    many(9, WEDNESDAY)
    late, = many(1, WEDNESDAY, earliest=WEDNESDAY, latest=WEDNESDAY + timedelta(days=14))
    plan = plan_reviews(cast.desk.user, cast.site, now)
    assert plan.placed == 10
    assert next(line.starts for line in plan.lines if line.row == late).date() == WEDNESDAY + timedelta(days=1)


def test_one_whose_window_is_over_is_placed_soon_and_says_so(cast, many, now):
    row, = many(1, NOW.date() - timedelta(days=30))
    line, = plan_reviews(cast.desk.user, cast.site, now).lines
    assert (line.row, line.late) == (row, True)
    assert now <= line.starts <= now + timedelta(days=SOON)


def test_the_client_is_free_at_that_time(cast, many, look, now):
    """Ada is with Theo all that day but for the last hour."""
    look(WEDNESDAY)
    cast.first.minutes = 410
    cast.first.save()
    book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.first, clinician=cast.theo, room=cast.hall,
        start=datetime(2026, 3, 11, 9, tzinfo=UTC), now=now,
    )
    line, = plan_reviews(cast.desk.user, cast.site, now).lines
    assert line.starts >= datetime(2026, 3, 11, 15, 50, tzinfo=UTC)


def test_booked_ones_and_those_after_twelve_weeks_are_left_out(cast, many, now):
    many(1, NOW.date() + timedelta(weeks=12))
    booked, = many(1, WEDNESDAY)
    booked.appointment = book_visit(
        by=cast.desk.user, client=booked.episode.client, visit_type=cast.review, clinician=cast.mina,
        start=datetime(2026, 3, 11, 9, tzinfo=UTC), now=now,
    )
    booked.save()
    assert plan_reviews(cast.desk.user, cast.site, now).lines == []


def test_a_clinician_plans_own_reviews(cast, many, now):
    many(2, WEDNESDAY)
    many(1, WEDNESDAY, cast.theo)
    assert len(plan_reviews(cast.theo.user, cast.site, now).lines) == 1


@pytest.mark.parametrize("count", [1, 6])
def test_it_takes_as_many_queries_for_six_as_for_one(cast, many, now, count, django_assert_num_queries):
    many(count, WEDNESDAY)
    with django_assert_num_queries(11):
        assert plan_reviews(cast.desk.user, cast.site, now).placed == count


def test_missing_is_added_up_by_week():
    left = [(1, date(2026, 3, 11)), (1, date(2026, 3, 15)), (1, date(2026, 3, 16)), (2, date(2026, 3, 9))]
    assert missing(left, 45) == [
        Missing(1, date(2026, 3, 9), 2, 90), Missing(2, date(2026, 3, 9), 1, 45), Missing(1, date(2026, 3, 16), 1, 45),
    ]


def test_what_is_ticked_is_set_aside_until_the_client_says_yes(cast, many, look, browse):
    row, (other,) = look(WEDNESDAY), many(1, WEDNESDAY)
    desk, own = browse(cast.desk.user), browse(cast.ada.user)
    with time_machine.travel(NOW, tick=False):
        page = desk.post(PAGE, {"do": "plan"}).content.decode()
        assert not Appointment.objects.exists(), "a proposal holds nothing"
        choices = [each.split('"')[0] for each in page.split('name="choice" value="')[1:]]
        mine = next(each for each in choices if str(row.public_id) in each)
        assert desk.post(PAGE, {"do": "book", "choice": [mine]}).status_code == 302
        visit = Appointment.objects.get()
        assert (visit.status, visit.client, visit.due_latest) == ("pending", cast.ada, WEDNESDAY)
        assert Reassessment.objects.get(pk=row.pk).appointment == visit
        assert Reassessment.objects.get(pk=other.pk).appointment is None, "partial is fine"
        assert Message.objects.get().kind == "visit_set_aside"
        own.post(f"/portal/visits/{visit.public_id}/confirm/")
    assert Appointment.objects.get().status == "booked"


def test_a_place_taken_meanwhile_is_said_and_the_others_are_set_aside(cast, many, browse, now):
    many(2, WEDNESDAY)
    desk = browse(cast.desk.user)
    with time_machine.travel(NOW, tick=False):
        page = desk.post(PAGE, {"do": "plan"}).content.decode()
        first, second = (each.split('"')[0] for each in page.split('name="choice" value="')[1:])
        book_visit(
            by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina,
            start=datetime.fromisoformat(first.split(" ")[2]), now=now,
        )
        answer = desk.post(PAGE, {"do": "book", "choice": [first, second, f"{first.split(' ')[0]} x y"]}, follow=True)
    said = answer.content.decode()
    assert "Mina already has a visit at that time." in said
    assert "choose one of the openings" in said
    assert "1 of 3 set aside" in said
    assert Appointment.objects.filter(status="pending").count() == 1


def test_the_page_says_what_is_missing_in_words(cast, many, browse):
    many(10, WEDNESDAY)
    with time_machine.travel(NOW, tick=False):
        page = browse(cast.lead.user).post(PAGE, {"do": "plan"}).content.decode()
    assert "9 of 10 fit" in page
    assert "50 min are missing." in page
    assert "Mina, week of 9 Mar: 50 min more for 1 review." in page
    assert 'name="choice"' not in page, "the lead looks, the desk books"
