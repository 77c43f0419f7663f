"""Series of visits: every date shown before it is booked, one local time across a clock change, changes for some or all."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from dateutil.rrule import DAILY, WEEKLY, rrule
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.booking.actions.book_series import book_series
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_series import cancel_series
from clinic.booking.actions.move_series import move_series
from clinic.booking.models import Appointment, Claim, Series, WorkingHours
from clinic.booking.rules.series import carried, days_of, quarters, spreads
from clinic.people.refusal import Refusal
from clinic.reminders.models import Message
from tests.booking.test_pages import text_of
from tests.conftest import NOW

MONDAY = date(2026, 3, 2)
TEN = time(10)
TUESDAYS = [date(2026, 3, 17) + timedelta(weeks=week) for week in range(4)]   # the clocks go forward on 29 March


@given(
    st.dates(date(2026, 1, 1), date(2027, 1, 1)), st.sets(st.integers(0, 6), min_size=1), st.integers(1, 26),
    st.integers(1, 3),
)
@settings(max_examples=60)
def test_the_days_are_those_of_the_recurrence_library(first, weekdays, weeks, every):
    # dateutil (RFC 5545): weeks counted from the first day, so WKST is its weekday
    expected = [
        each.date() for each in rrule(
            WEEKLY, interval=every, byweekday=sorted(weekdays), wkst=first.weekday(),
            dtstart=datetime.combine(first, TEN), until=datetime.combine(first + timedelta(days=7 * weeks - 1), TEN),
        )
    ]
    if len(expected) > 60:
        with pytest.raises(ValueError, match="60"):
            days_of(first, frozenset(weekdays), weeks, every)
    else:
        assert days_of(first, frozenset(weekdays), weeks, every) == expected


def test_visits_lie_as_far_apart_as_the_week_allows():
    assert spreads(2)[0] == {0, 3}
    assert spreads(3)[0] == {0, 2, 4}
    assert spreads(1)[0] == {0}
    assert len(spreads(7)) == 1
    with pytest.raises(ValueError, match="1 to 7"):
        spreads(8)


def test_times_of_a_part_of_the_day():
    assert quarters(time(9), time(10)) == [time(9), time(9, 15), time(9, 30), time(9, 45)]
    assert quarters(time(9, 5), time(9, 5, 59)) == [time(9, 5)]
    assert len(quarters(time.min, time.max)) == len(list(rrule(DAILY, count=96, dtstart=datetime.combine(MONDAY, TEN))))


def test_a_change_is_carried_over_in_local_time():
    was, new, other = (
        datetime(2026, 3, 24, 10, tzinfo=UTC), datetime(2026, 3, 25, 9, 30, tzinfo=UTC), datetime(2026, 3, 31, 9, tzinfo=UTC),
    )
    assert carried(was, new, other, "Europe/London") == (date(2026, 4, 1), time(9, 30))


@pytest.fixture
def series(cast, now):
    def booked(days=TUESDAYS, at=TEN, only_good=False, client=None):
        return book_series(
            by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=cast.mina, days=days, at=at,
            only_good=only_good, now=now,
        )

    return booked


@pytest.fixture
def clash(cast, now):
    """Bo sits in the second of the four hours."""
    return book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, now=now,
        start=datetime(2026, 3, 24, 10, 15, tzinfo=UTC),
    )


def test_one_local_time_across_the_clock_change_and_one_message(cast, series):
    made, left_out = series()
    starts = list(Appointment.objects.filter(series=made).order_by("starts").values_list("starts", flat=True))
    assert [start.hour for start in starts] == [10, 10, 9, 9], "ten o'clock in London all the time"
    assert left_out == []
    assert [(row.kind, row.values["day"]) for row in Message.objects.all()] == [("visits_booked", "Tuesday 17 March")]


def test_all_or_nothing_names_the_dates_and_saves_none(series, clash):
    before = Claim.objects.count(), Appointment.objects.count(), Series.objects.count(), Message.objects.count()
    with pytest.raises(Refusal) as caught:
        series()
    assert caught.value.code == "series_blocked"
    assert [(each["day"], each["code"]) for each in caught.value.numbers["blocked"]] == [("2026-03-24", "slot_taken")]
    assert len(caught.value.numbers["openings"]) == 3
    after = Claim.objects.count(), Appointment.objects.count(), Series.objects.count(), Message.objects.count()
    assert after == before


def test_only_the_good_ones_is_said_outright(series, clash):
    made, left_out = series(only_good=True)
    assert made.visits.count() == 3
    assert [each["day"] for each in left_out] == ["2026-03-24"]
    with pytest.raises(Refusal, match="1 of 1"):
        series(days=[date(2026, 3, 24)], only_good=True)


@pytest.mark.parametrize(("days", "at", "code"), [
    ([date(2026, 3, 29)], time(1, 30), "nonexistent_time"), ([date(2026, 10, 25)], time(1, 30), "ambiguous_time"),
    ([date(2026, 3, 28)], TEN, "outside_hours"), ([date(2026, 2, 24)], TEN, "in_the_past"),
    ([date(2026, 3, 24)], time(10, 2), "off_grid"),
])
def test_what_no_visit_can_be_is_named(series, days, at, code):
    with pytest.raises(Refusal) as caught:
        series(days=days, at=at)
    assert [each["code"] for each in caught.value.numbers["blocked"]] == [code]


@pytest.mark.parametrize("days", [[], [MONDAY, MONDAY], [MONDAY + timedelta(days=n) for n in range(61)]], ids=len)
def test_a_series_of_no_or_too_many_dates_is_refused(series, days):
    with pytest.raises(Refusal, match="1 to 60 dates"):
        series(days=days)


@pytest.mark.parametrize(("scope", "cancelled"), [("this", 1), ("later", 3), ("all", 4)])
def test_cancelling_this_one_this_and_later_or_all(cast, series, now, scope, cancelled):
    made, _ = series()
    second = made.visits.order_by("starts")[1]
    cancel_series(by=cast.desk.user, appointment=second, scope=scope, reason="client", now=now)
    assert made.visits.filter(status="cancelled").count() == cancelled
    assert Claim.objects.filter(resource="client").count() == 6 * (4 - cancelled)


@pytest.mark.parametrize(("scope", "moved"), [("this", [1]), ("later", [1, 2, 3]), ("all", [0, 1, 2, 3])])
def test_moving_carries_day_and_local_time(cast, series, now, scope, moved):
    made, _ = series()
    second = made.visits.order_by("starts")[1]
    start = datetime(2026, 3, 25, 14, 30, tzinfo=UTC)
    move_series(by=cast.desk.user, appointment=second, start=start, scope=scope, now=now)
    local = [visit.starts.astimezone(ZoneInfo("Europe/London")) for visit in made.visits.order_by("starts")]
    assert [(at.strftime("%a"), at.hour) for at in local] == [
        ("Wed", 14) if number in moved else ("Tue", 10) for number in range(4)
    ]


def test_a_series_may_move_onto_its_own_hours(cast, series, now):
    days = sorted([*TUESDAYS, *(day + timedelta(days=2) for day in TUESDAYS)])
    made, _ = series(days=days)
    first = made.visits.order_by("starts")[0]
    start = first.starts + timedelta(minutes=15)
    moved = move_series(by=cast.desk.user, appointment=first, start=start, scope="all", now=now)
    assert len(moved) == 8


def test_a_blocked_date_moves_nothing(cast, series, clash, now):
    made, _ = series(at=time(12))
    first = made.visits.order_by("starts")[0]
    before = list(made.visits.order_by("pk").values_list("starts", flat=True))
    with pytest.raises(Refusal, match="1 of 4 visits cannot be moved so"):
        move_series(
            by=cast.desk.user, appointment=first, start=first.starts - timedelta(hours=2), scope="all", now=now
        )
    assert list(made.visits.order_by("pk").values_list("starts", flat=True)) == before
    with pytest.raises(Refusal, match="Say whether"):
        move_series(by=cast.desk.user, appointment=first, start=first.starts, scope="some", now=now)


@pytest.fixture
def desk(cast, browse):
    with time_machine.travel(NOW, tick=False):
        yield browse(cast.desk.user)


def sent(page):
    content = page.content.decode()
    pairs = re.findall(r'type="hidden" name="(client|clinician|visit_type|at)" value="([^"]*)"', content)
    return {**dict(pairs), "days": re.findall(r'name="days" value="([^"]+)"', content)}


def test_plain_words_become_dates_and_are_booked_all_at_once(cast, desk):
    page = desk.post("/booking/new/", {"text": "ada follow-up twice a week for four weeks mornings from next week"})
    words = text_of(page)
    assert "How often 2 times a week for 4 weeks" in words
    assert "8 visits at 09:00, Follow-up with Mina 8 of 8 dates are good." in words
    assert not Appointment.objects.exists()
    answer = desk.post("/booking/series/", {**sent(page), "choice": "all"}, follow=True)
    assert "Booked: 8 visits of Ada Quill." in text_of(answer)
    assert Appointment.objects.filter(series__isnull=False).count() == 8


def test_blocked_dates_say_why_and_only_the_good_ones_can_be_booked(cast, desk, clash):
    WorkingHours.objects.filter(clinician=cast.theo).delete()
    page = desk.post("/booking/new/", {"text": "ada follow-up every tue at 10:00 from 17 march for 4 weeks"})
    words = text_of(page)
    assert "3 of 4 dates are good." in words
    assert "Tuesday 24 March blocked Mina already has a visit then." in words
    assert "Book only the 3 good ones" in words
    refused = desk.post("/booking/series/", {**sent(page), "choice": "all"})
    assert refused.status_code == 409
    assert "1 of 4 dates cannot be booked. Nothing was saved." in text_of(refused)
    answer = desk.post("/booking/series/", {**sent(page), "choice": "good"}, follow=True)
    assert "3 visits of Ada Quill; 1 date was left out." in text_of(answer)


def test_a_visit_of_a_series_is_cancelled_and_moved_with_a_scope(cast, desk, series):
    made, _ = series()
    second = made.visits.order_by("starts")[1]
    assert "This and later ones" in text_of(desk.get(f"/booking/{second.public_id}/move/"))
    to = f"{cast.mina.public_id} 2026-03-24T11:00:00+00:00"
    answer = desk.post(f"/booking/{second.public_id}/move/", {"opening": to, "scope": "later"}, follow=True)
    assert "3 visits of the series were moved." in text_of(answer)
    answer = desk.post(f"/booking/{second.public_id}/", {"reason": "client", "scope": "later"}, follow=True)
    assert "3 visits of the series are cancelled." in text_of(answer)


@pytest.mark.parametrize("text", ["ada 7 times a week for 26 weeks", "ada every tue for 40 weeks"])
def test_too_long_a_series_is_said(desk, text):
    assert "A series lasts 1 to 26 weeks" in text_of(desk.post("/booking/new/", {"text": text}))
