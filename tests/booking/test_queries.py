"""Doors, openings and the day, with literal query counts."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from clinic.booking import queries
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.daybook import day_book
from clinic.booking.models import Absence, WorkingHours
from clinic.people.models import Staff, User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role

TUESDAY = date(2026, 3, 3)
TEN = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)


@pytest.fixture
def book(cast, now):
    def booked(start=TEN, client=None, clinician=None, visit_type=None, **more):
        return book_visit(
            by=cast.desk.user, client=client or cast.ada, visit_type=visit_type or cast.follow_up,
            clinician=clinician or cast.mina, start=start, now=now, **more,
        )

    return booked


@pytest.fixture
def find(cast, now):
    def found(first=TUESDAY, last=None, visit_type=None, **more):
        return queries.openings(
            site=cast.site, visit_type=visit_type or cast.follow_up, first_day=first, last_day=last or first, now=now, **more
        )

    return found


def test_each_sees_their_own_visits(cast, book, django_assert_num_queries):
    visit = book()
    seen = {
        name: [row.pk for row in queries.appointments_for(person.user)]
        for name, person in {"desk": cast.desk, "lead": cast.lead, "mina": cast.mina, "theo": cast.theo, "ada": cast.ada,
                             "bo": cast.bo}.items()
    }
    assert seen == {"desk": [visit.pk], "lead": [visit.pk], "mina": [visit.pk], "theo": [], "ada": [visit.pk], "bo": []}
    assert list(queries.appointments_for(cast.gone)) == []
    assert list(queries.appointments_for(User.objects.system())) == [visit]
    with pytest.raises(NotThere):
        queries.appointment_for(cast.theo.user, visit.public_id)
    with django_assert_num_queries(1):
        assert queries.appointment_for(cast.desk.user, visit.public_id).room.name == "Room 1"


def test_things_that_do_not_exist_are_not_there(cast):
    for door in (
        lambda: queries.visit_type("nothing"),
        lambda: queries.room_at(cast.site, "Cellar"),
        lambda: queries.bookable_clinician(cast.mina.user, cast.site, cast.theo.public_id),
    ):
        with pytest.raises(NotThere):
            door()
    assert queries.bookable_clinician(cast.desk.user, cast.site, cast.theo.public_id) == cast.theo
    assert queries.appointment_of("reassessment:1") is None


def test_an_opening_is_free_in_every_resource_and_can_be_booked(cast, book, find):
    book()
    for opening in find(client=cast.bo, limit=100):
        assert not (opening.clinician == cast.mina and opening.starts < TEN + timedelta(minutes=35)
                    and opening.ends + timedelta(minutes=5) > TEN)
    first = find(client=cast.bo)[0]
    visit = book(first.starts, client=cast.bo, clinician=first.clinician)
    assert (visit.room, visit.ends) == (first.room, first.ends)


def test_openings_prefer_the_clients_clinician_and_usual_time(cast, find, now):
    for week in (1, 2):
        import_visit(
            by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.theo,
            start=TEN + timedelta(hours=4) - timedelta(weeks=week), now=now, status="fulfilled",
        )
    best = find(client=cast.bo, due_window=(TUESDAY, TUESDAY))[0]
    assert (best.clinician, best.starts.hour) == (cast.theo, 12)
    assert best.reasons == ("in_window", "same_clinician", "usual_time", "no_gap")
    assert find(due_window=(None, None))[0].reasons == ("no_gap",)


def test_openings_respect_absences_the_present_and_a_visit_being_moved(cast, book, find, now):
    Absence.objects.create(clinician=cast.mina, starts=TEN - timedelta(hours=2), ends=TEN + timedelta(days=1))
    assert {opening.clinician for opening in find(limit=100)} == {cast.theo}
    assert find(clinician=cast.mina) == []
    assert min(opening.starts for opening in find(now.date(), limit=100)) >= now
    visit = book(clinician=cast.theo)
    taken = {opening.starts for opening in find(clinician=cast.theo, client=cast.ada, limit=100)}
    free = {opening.starts for opening in find(clinician=cast.theo, client=cast.ada, limit=100, apart_from=visit)}
    assert TEN in free - taken


def test_a_search_has_bounds(find):
    with pytest.raises(Refusal, match="92 days"):
        find(TUESDAY, TUESDAY + timedelta(days=92))
    with pytest.raises(Refusal, match="before the first"):
        find(TUESDAY, TUESDAY - timedelta(days=1))
    assert find(TUESDAY, TUESDAY + timedelta(days=91))


def more_clinicians(cast, count):
    for n in range(count):
        user = User.objects.create_user(f"extra{n}@harbour.example", Role.CLINICIAN)
        person = Staff.objects.create(user=user, name=f"Extra {n}")
        person.sites.add(cast.site)
        WorkingHours.objects.create(
            clinician=person, site=cast.site, rule="FREQ=DAILY", first_day=TUESDAY, starts=time(9), ends=time(17)
        )


@pytest.mark.parametrize(("clinicians", "days"), [(0, 1), (5, 60)])
def test_openings_take_as_many_queries_for_many_as_for_one(cast, book, find, clinicians, days, django_assert_num_queries):
    book()
    more_clinicians(cast, clinicians)
    with django_assert_num_queries(9):
        assert find(TUESDAY, TUESDAY + timedelta(days=days), client=cast.ada)


@pytest.mark.parametrize("visits", [1, 3])
def test_the_day_takes_as_many_queries_for_three_visits_as_for_one(cast, book, visits, django_assert_num_queries):
    for n in range(visits):
        book(TEN + timedelta(hours=n))
    with django_assert_num_queries(6):
        day = day_book(cast.desk.user, cast.site, TUESDAY)
        assert [len(column.visits) for column in day.columns] == [visits, 0]
    assert (day.coming, [column.clinician.name for column in day.columns]) == (visits, ["Mina", "Theo"])


def test_a_clinician_sees_their_own_column(cast, book):
    book()
    assert [column.clinician for column in day_book(cast.theo.user, cast.site, TUESDAY).columns] == [cast.theo]


@pytest.mark.parametrize(
    "start",
    [
        datetime(2026, 2, 10, 23, 30, tzinfo=UTC),    # an ordinary night
        datetime(2026, 3, 28, 23, 30, tzinfo=UTC),    # into the day of 23 hours
        datetime(2026, 10, 24, 22, 30, tzinfo=UTC),   # 23:30 summer time, into the day of 25 hours
    ],
)
def test_a_visit_across_midnight_stands_on_both_days_and_counts_once(cast, now, start):
    visit = import_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.first, clinician=cast.mina, start=start, now=now, minutes=60
    )
    assert visit.claims.filter(resource="client").count() == 12
    evening = date(start.year, start.month, start.day)
    days = [day_book(cast.desk.user, cast.site, evening + timedelta(days=n)) for n in range(3)]
    assert [sum(len(column.visits) for column in day.columns) for day in days] == [1, 1, 0]
    assert [day.coming for day in days] == [1, 0, 0]


@pytest.mark.parametrize(("day", "hour"), [(date(2026, 3, 27), 9), (date(2026, 3, 30), 8), (date(2026, 10, 26), 9)])
def test_a_clinicians_day_begins_at_nine_on_the_clock_in_summer_and_winter(cast, find, day, hour):
    assert min(opening.starts for opening in find(day, limit=100)) == datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


def test_the_next_visit_of_each_client_is_one_query(cast, book, now, django_assert_num_queries):
    later, sooner = book(TEN + timedelta(days=1)), book()
    with django_assert_num_queries(1):
        found = queries.next_visits([cast.ada.pk, cast.bo.pk], now)
        assert found[cast.ada.pk].clinician.name == "Mina"
    assert found == {cast.ada.pk: sooner}
    assert queries.next_visits([cast.ada.pk], TEN + timedelta(minutes=5)) == {cast.ada.pk: later}
