"""Closed days, public holidays and extra hours."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.db import IntegrityError, transaction

from clinic.booking.actions.add_extra_hours import add_extra_hours
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.close_days import close_days
from clinic.booking.actions.remove_special_hours import remove_special_hours
from clinic.booking.models import SpecialHours
from clinic.booking.queries import openings
from clinic.booking.rules.closing import parts_of, public_holidays, without
from clinic.people.refusal import Refusal
from tests.booking.test_pages import text_of
from tests.conftest import NOW

TUESDAY, SATURDAY = date(2026, 3, 3), date(2026, 3, 7)
TEN = datetime(2026, 3, 3, 10, tzinfo=UTC)


def test_the_bank_holidays_of_england_in_2026():
    # as published on gov.uk/bank-holidays (from memory); 28 December stands in for Boxing Day, a Saturday
    assert [day for day, _ in public_holidays("GB", "ENG", 2026)] == [
        date(2026, 1, 1), date(2026, 4, 3), date(2026, 4, 6), date(2026, 5, 4), date(2026, 5, 25), date(2026, 8, 31),
        date(2026, 12, 25), date(2026, 12, 26), date(2026, 12, 28),
    ]
    assert date(2026, 1, 2) in dict(public_holidays("GB", "SCT", 2026))
    assert "ENG" in parts_of("GB")
    for place in (("GB", "XX"), ("XX", "")):
        with pytest.raises(ValueError, match="no public holidays"):
            public_holidays(*place, 2026)


def test_closed_spans_are_cut_out():
    hour = timedelta(hours=1)
    assert without([(TEN, TEN + 4 * hour)], [(TEN + hour, TEN + 2 * hour)]) == [
        (TEN, TEN + hour), (TEN + 2 * hour, TEN + 4 * hour)
    ]
    assert without([(TEN, TEN + hour)], [(TEN - hour, TEN + 2 * hour)]) == []
    assert without([(TEN, TEN + hour)], [(TEN + hour, TEN + 2 * hour)]) == [(TEN, TEN + hour)]


def found(cast, day):
    return openings(site=cast.site, visit_type=cast.follow_up, first_day=day, last_day=day, now=NOW)


def book(cast, start=TEN, client=None):
    return book_visit(
        by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=NOW
    )


def close(cast, *days):
    return close_days(by=cast.desk.user, site=cast.site, days=[(day, "Stocktaking") for day in days], now=NOW)


def test_nothing_is_free_on_a_closed_day_until_it_is_opened_again(cast):
    assert found(cast, TUESDAY)
    assert close(cast, TUESDAY) == (1, [])
    assert close(cast, TUESDAY) == (0, []), "closed already"
    assert found(cast, TUESDAY) == []
    with pytest.raises(Refusal, match="not working"):
        book(cast)
    assert book(cast, TEN + timedelta(days=1))
    remove_special_hours(by=cast.desk.user, row=SpecialHours.objects.get(), now=NOW)
    assert book(cast)


def test_a_day_with_visits_is_not_closed_over_them(cast):
    visit = book(cast)
    with pytest.raises(Refusal, match=r"A visit is booked on that day \(3 March 10:00\)") as caught:
        close(cast, TUESDAY)
    assert caught.value.status == 409
    assert caught.value.numbers["visits"] == [{"id": str(visit.public_id), "starts": visit.starts.isoformat()}]
    assert close(cast, TUESDAY, TUESDAY + timedelta(days=1)) == (1, [(TUESDAY, 1)])
    with pytest.raises(Refusal, match="over"):
        close(cast, date(2026, 3, 1))


def test_extra_hours_are_open_even_on_a_closed_day(cast):
    assert found(cast, SATURDAY) == []
    close(cast, SATURDAY)
    start = datetime(2026, 3, 7, 10, tzinfo=UTC)
    hours = {"site": cast.site, "clinician": cast.mina, "now": NOW}
    row = add_extra_hours(by=cast.desk.user, starts=start, ends=start + timedelta(hours=2), **hours)
    assert {each.clinician for each in found(cast, SATURDAY)} == {cast.mina}
    book(cast, start)
    with pytest.raises(Refusal, match=r"A visit is booked in those hours \(7 March 10:00\)") as caught:
        remove_special_hours(by=cast.desk.user, row=row, now=NOW)
    assert (caught.value.status, len(caught.value.numbers["visits"])) == (409, 1)
    assert SpecialHours.objects.filter(pk=row.pk).exists(), "no visit is left outside hours"
    for bad in ((start, start), (start, start - timedelta(hours=1)), (start, start + timedelta(seconds=90))):
        with pytest.raises(Refusal):
            add_extra_hours(by=cast.desk.user, starts=bad[0], ends=bad[1], **hours)


def test_the_database_refuses_what_makes_no_sense(cast):
    close(cast, TUESDAY)
    row = SpecialHours.objects.get()
    for change in ({"ends": row.starts}, {"is_open": True}, {"clinician": cast.mina.pk}):
        with pytest.raises(IntegrityError), transaction.atomic():
            SpecialHours.objects.update(**change)
    with pytest.raises(IntegrityError), transaction.atomic():
        SpecialHours.objects.create(site=cast.site, is_open=False, starts=row.starts, ends=row.ends)


def test_the_page_closes_opens_and_adds(cast, browse):
    with time_machine.travel(NOW, tick=False):
        desk = browse(cast.desk.user)
        answer = desk.post("/booking/closed/", {"do": "holidays", "part": "ENG", "year": "2026"}, follow=True)
        assert "8 public holidays are closed days now." in text_of(answer)
        assert "Friday 3 April 2026 Closed: Good Friday" in text_of(answer)
        assert desk.post("/booking/closed/", {"do": "close", "day": "2026-03-03", "name": ""}).status_code == 400
        body = {
            "do": "extra", "clinician": str(cast.mina.public_id), "day": "2026-03-07", "starts": "10:00", "ends": "12:00"
        }
        answer = desk.post("/booking/closed/", body, follow=True)
        assert "Saturday 7 March 2026 Mina, 10:00–12:00 as well" in text_of(answer)
        assert desk.post("/booking/closed/", {**body, "ends": "09:00"}).status_code == 400
        row = SpecialHours.objects.get(is_open=True)
        assert "Taken off the list." in text_of(desk.post(f"/booking/closed/{row.public_id}/", follow=True))
