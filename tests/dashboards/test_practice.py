"""No-shows, hours and load: rows equal to a recount one by one on random books, in a fixed number of queries."""

import json
import random
from collections import Counter
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine

from clinic.booking.models import Absence, Appointment, SpecialHours
from clinic.people.models import Staff, User
from clinic.reminders.models import Message
from dashboards.figures import attendance as no_shows
from dashboards.figures import hours as hour_figures
from dashboards.read_models import attendance, hours
from dashboards.read_models.practice_rows import LEADS, Attendance, LoadRow, by_week, group_of, load_by_week
from tests.visits.conftest import look

__all__ = ["look"]
ZONE = "Europe/London"
PLACE = ZoneInfo(ZONE)
NOW = datetime(2026, 6, 10, 11, 20, tzinfo=UTC)   # a Wednesday
DAY, CELL = timedelta(days=1), timedelta(minutes=5)
STATUSES = ("fulfilled",) * 6 + ("noshow", "cancelled", "booked", "entered-in-error")


def put(cast, clinician, start, minutes=30, status="fulfilled", lead=3, after=5):
    client, room = (cast.ada, cast.room) if clinician == cast.mina else (cast.bo, cast.hall)
    return Appointment.objects.create(
        site=cast.site, client=client, clinician=clinician, room=room, visit_type=cast.follow_up, starts=start,
        ends=start + timedelta(minutes=minutes), busy_from=start, busy_until=start + timedelta(minutes=minutes + after),
        status=status, booked_by=cast.desk.user, booked_at=start - timedelta(days=lead, minutes=7),
    )


@pytest.fixture
def book(cast):
    """Half a year of Mina's and Theo's days, three weeks of it still to come."""
    dice = random.Random(11)
    rows = []
    for clinician in (cast.mina, cast.theo):
        for back in range(-21, 170):
            day = NOW.date() - back * DAY
            if day.weekday() > 4 or dice.random() < 0.4:
                continue
            at = datetime.combine(day, time(8), UTC) + dice.randint(0, 6) * CELL
            for _ in range(dice.randint(1, 6)):
                status = dice.choice(STATUSES) if back > 0 else "booked"
                rows.append(put(cast, clinician, at, dice.choice((30, 45)), status, dice.randint(0, 40)))
                at += timedelta(minutes=dice.choice((50, 55, 65, 120)))
    Absence.objects.create(clinician=cast.theo, starts=NOW - 9 * DAY, ends=NOW - 4 * DAY)
    Absence.objects.create(clinician=cast.theo, starts=NOW + 4 * DAY, ends=NOW + 8 * DAY)
    return rows


def monday(at):
    local = at.astimezone(PLACE).date()
    return local - timedelta(days=local.weekday())


NAMES = {"fulfilled": "kept", "noshow": "missed", "cancelled": "cancelled", "booked": "unclosed"}


@pytest.mark.parametrize("who", ["lead", "mina", "theo"])
def test_no_shows_equal_a_recount_of_the_book(cast, book, who):
    user = getattr(cast, who).user
    part = attendance.attendance(user, NOW, ZONE)
    weeks, leads = Counter(), Counter()
    for row in Appointment.objects.all():
        own = who == "lead" or row.clinician.user_id == user.pk
        if not own or row.ends > NOW or row.status not in NAMES or monday(row.starts) < part.weeks[0].monday:
            continue
        days = (row.starts - row.booked_at).days
        place = next(place for place, (_, last) in enumerate(LEADS) if last is None or days <= last)
        weeks[monday(row.starts), NAMES[row.status]] += 1
        leads[place, NAMES[row.status]] += 1
    assert len(part.weeks) == attendance.WEEKS
    for field in ("kept", "missed", "cancelled", "unclosed"):
        assert [getattr(week.seen, field) for week in part.weeks] == [weeks[week.monday, field] for week in part.weeks]
        assert [getattr(group.seen, field) for group in part.leads] == [leads[place, field] for place in range(len(LEADS))]
    missed, kept = (sum(number for (_, field), number in weeks.items() if field == name) for name in ("missed", "kept"))
    assert part.centre == pytest.approx(missed / (missed + kept))
    assert part.whole.expected == missed + kept > 50


def test_a_booking_on_the_bound_of_a_lead_time_falls_where_its_days_say(cast):
    for lead in (1, 2, 6, 7, 13, 14, 27, 28):
        put(cast, cast.mina, NOW - lead * DAY, lead=lead)
    part = attendance.attendance(cast.mina.user, NOW, ZONE)
    assert [group.seen.kept for group in part.leads] == [1, 2, 2, 2, 1]


def test_lead_times_are_told_apart_only_where_their_intervals_lie_apart(cast):
    def groups(*counts):
        return [group_of(str(place), Attendance(kept, missed)) for place, (kept, missed) in enumerate(counts)]

    assert no_shows.leads_title(groups((50, 0), (50, 2), (9, 1), (40, 8), (40, 12))) == (
        "Visits booked 14 days or more before are missed more often than those of the last week: 20 % against 2 %"
    )
    assert no_shows.leads_title(groups((5, 0), (5, 0), (9, 1), (4, 1), (4, 1))).startswith("No difference")
    few = groups((0, 0), (0, 0), (9, 1), (4, 1), (4, 1))
    assert no_shows.leads_title(few).startswith("Too few visits booked within a week")


def test_reminders_are_matched_to_their_visits(cast):
    visits = [put(cast, cast.mina, NOW - day * DAY, status=status) for day, status in (
        (1, "fulfilled"), (2, "noshow"), (3, "noshow"), (4, "fulfilled"), (40, "noshow"),
    )]
    states = ((0, "sent"), (0, "skipped"), (1, "failed"), (2, "skipped"))
    for number, (place, state) in enumerate(states):
        visit = visits[place]
        Message.objects.create(
            kind="visit_reminder", client=cast.ada, about=f"appointment:{visit.public_id}", dedup_key=f"r:{number}",
            state=state, due=visit.starts, not_after=visit.starts, created=visit.starts - DAY,
        )
    groups = attendance.reminded(cast.mina.user, NOW)
    found = {group.code: (group.seen.kept, group.seen.missed) for group in groups}
    assert found == {"sent": (1, 0), "not_sent": (0, 1), "failed": (0, 1), "none": (1, 0)}
    assert no_shows.reminders_title(groups) == "A reminder went out for 1 of 4 visits in 28 days"
    assert not any(group.seen.expected for group in attendance.reminded(cast.theo.user, NOW))


def cells_of(person, first, last):
    """State of each 5-minute cell between two instants, one by one: open, used, missed, outside or shut."""
    visits = list(Appointment.objects.filter(clinician=person, busy_from__lt=last, busy_until__gt=first))
    away = list(Absence.objects.filter(clinician=person))
    found = {}
    at = first
    while at < last:
        local = at.astimezone(PLACE)
        inside = local.weekday() < 5 and time(9) <= local.time() < time(17)
        inside = inside and not any(row.starts < at + CELL and at < row.ends for row in away)
        here = {row.status for row in visits if row.busy_from < at + CELL and at < row.busy_until}
        busy = bool(here & {"booked", "fulfilled", "arrived", "checked-in", "pending"})
        found[at] = (
            ("used" if inside else "outside") if busy else ("missed" if "noshow" in here else "open") if inside else "shut"
        )
        at += CELL
    return found


def runs_of(found, state):
    """Lengths in cells of the runs of one state."""
    lengths, length = [], 0
    for value in [*found.values(), None]:
        if value == state:
            length += 1
        elif length:
            lengths.append(length)
            length = 0
    return lengths


def test_hours_used_equal_a_recount_of_every_five_minutes(cast, book):
    rows = hours.hours_used(cast.lead.user, NOW, ZONE, count=3)
    assert [row.clinician for row in rows] == ["Mina"] * 3 + ["Theo"] * 3
    shortest = 7    # a follow-up with its clean-up: 35 minutes
    for row in rows:
        first = datetime.combine(row.monday, time(0), PLACE).astimezone(UTC)
        found = cells_of(Staff.objects.get(pk=row.key), first, first + 7 * DAY)
        counts = Counter(found.values())
        gaps = [length for length in runs_of(found, "open") if length < shortest]
        assert (row.used, row.missed, row.outside) == (5 * counts["used"], 5 * counts["missed"], 5 * counts["outside"])
        assert row.stranded == 5 * sum(gaps)
        assert row.free == 5 * (counts["open"] - sum(gaps))
        assert row.open == row.used + row.missed + row.stranded + row.free
    assert sum(row.stranded for row in rows) > 0
    assert sum(row.open for row in rows if row.clinician == "Theo") < sum(row.open for row in rows if row.clinician == "Mina")


def test_the_load_ahead_equals_a_recount_and_carries_over_what_does_not_fit(cast, book, look):
    today = NOW.date()
    for reason, due in (("kick_off_end", today - 30 * DAY), ("interval", today), ("visit_count", today + 8 * DAY)):
        look(due, reason=reason)
    look(today + 9 * DAY, episode=cast.bo_neck)
    look(today + 200 * DAY, episode=cast.bo_neck, reason="interval")                # past the last week
    rows = hours.review_load(cast.lead.user, NOW, ZONE, count=3)
    due = {(row.clinician, row.monday): row.due for row in rows}
    this, following = rows[0].monday, rows[1].monday
    assert {key: number for key, number in due.items() if number} == {
        ("Mina", this): 2, ("Mina", following): 1, ("Theo", following): 1,
    }
    for row in rows:
        begin = max(NOW, datetime.combine(row.monday, time(0), PLACE).astimezone(UTC))
        end = datetime.combine(row.monday + 7 * DAY, time(0), PLACE).astimezone(UTC)
        found = cells_of(Staff.objects.get(name=row.clinician), begin, end)
        assert row.places == sum(length // 10 for length in runs_of(found, "open"))     # 45 minutes and 5 of clean-up
        assert row.open == 5 * sum(state in {"open", "used", "missed"} for state in found.values())
        assert (row.minutes, row.over) == (50, 0)
    Absence.objects.create(clinician=cast.mina, starts=NOW - DAY, ends=NOW + 12 * DAY)
    over = [row.over for row in hours.review_load(cast.mina.user, NOW, ZONE, count=3)]
    assert over == [2, 3, 0]
    title = hour_figures.load_title(hours.review_load(cast.lead.user, NOW, ZONE, count=3))
    assert title == "4 reassessments come due without a visit; with 1 clinician up to 3 of them do not fit in time"


def test_a_closed_day_takes_hours_away_and_extra_hours_add_some(cast):
    before = hours.hours_used(cast.lead.user, NOW, ZONE, count=1)
    noon = NOW - 7 * DAY
    midnight = noon.replace(hour=0, minute=0)
    SpecialHours.objects.create(site=cast.site, is_open=False, starts=midnight, ends=midnight + DAY)
    saturday = noon + 3 * DAY
    SpecialHours.objects.create(
        site=cast.site, is_open=True, clinician=cast.mina, starts=saturday, ends=saturday + timedelta(hours=2)
    )
    after = hours.hours_used(cast.lead.user, NOW, ZONE, count=1)
    assert [row.open for row in before] == [5 * 480] * 2
    assert [(row.clinician, row.open) for row in after] == [("Mina", 4 * 480 + 120), ("Theo", 4 * 480)]


def test_each_sees_their_own_hours_and_the_desk_none(cast, book):
    assert {row.clinician for row in hours.hours_used(cast.mina.user, NOW, ZONE)} == {"Mina"}
    assert {row.clinician for row in hours.hours_used(cast.lead.user, NOW, ZONE, cast.theo)} == {"Theo"}
    for user in (cast.desk.user, cast.ada.user):
        assert hours.hours_used(user, NOW, ZONE) == hours.review_load(user, NOW, ZONE) == []


@pytest.mark.parametrize("many", [False, True])
def test_a_fixed_number_of_queries_however_full_the_book(cast, many, request, django_assert_num_queries):
    if many:
        request.getfixturevalue("book")
    else:
        put(cast, cast.mina, NOW - DAY)
    with django_assert_num_queries(1):
        attendance.attendance(cast.lead.user, NOW, ZONE)
    with django_assert_num_queries(2):
        attendance.reminded(cast.lead.user, NOW)
    with django_assert_num_queries(7):
        hours.hours_used(cast.lead.user, NOW, ZONE)
    with django_assert_num_queries(8):
        hours.review_load(cast.lead.user, NOW, ZONE)


def test_the_control_chart_draws_the_weeks_and_marks_those_outside(cast):
    for week in range(1, 9):
        for number in range(20):
            missed = number < (14 if week == 3 else 1)
            put(cast, cast.mina, NOW - 7 * week * DAY + number * CELL * 8, status="noshow" if missed else "fulfilled")
    part = attendance.attendance(cast.mina.user, NOW, ZONE)
    fig = no_shows.control(part)
    traces = {trace.name: trace for trace in fig.data}
    [week] = [week for week in part.weeks if week.signal]
    assert list(traces["Week outside the limits"].x) == [f"{week.monday}"]
    assert list(traces["Week outside the limits"].y) == [70.0]
    assert len(traces["Week"].x) == 7                       # weeks without a visit are not drawn as 0
    assert fig.layout.title.text == "13 % of the visits were no-shows; 1 week stands out: that of 18 May (more)"
    assert len([row for row in part.weeks if row.share is None]) == attendance.WEEKS - 8


def test_the_hours_of_the_chart_add_up_and_stay_small(cast, book):
    rows = hours.hours_used(cast.lead.user, NOW, ZONE)
    fig = hour_figures.used(rows)
    assert sum(sum(trace.y) for trace in fig.data) == pytest.approx(sum(row.open for row in rows) / 60, abs=0.5)
    assert len({trace.marker.pattern.shape for trace in fig.data}) == len(fig.data) == 4
    assert [row.monday for row in by_week(rows).values()] == sorted({row.monday for row in rows})
    load = hour_figures.load(hours.review_load(cast.lead.user, NOW, ZONE))
    figures = (fig, load, no_shows.control(attendance.attendance(cast.lead.user, NOW, ZONE)))
    assert all(len(json.dumps(json.loads(each.to_json()))) < 50_000 for each in figures)


def test_two_clinicians_of_one_name_are_two(cast):
    rows = [LoadRow(key, "Mina", NOW.date(), 60, 0, 1, 3, 50, 2) for key in (1, 2)]
    assert hour_figures.load_title(rows).endswith("with 2 clinicians up to 2 of them do not fit in time")
    assert load_by_week(rows)[NOW.date()].over == 4


@pytest.mark.parametrize(("people", "folded"), [(8, False), (9, True)])
def test_a_long_list_of_people_is_folded_away(cast, browse, people, folded):
    for number in range(people - 2):
        user = User.objects.create_user(f"p{number}@harbour.example", "clinician", "a long enough passphrase")
        Staff.objects.create(user=user, name=f"P{number}").sites.add(cast.site)
    text = browse(cast.lead.user).get("/practice/hours/").content.decode()
    assert ('<details class="people">' in text) == folded
    assert text.count("?clinician=") >= people


def test_an_empty_practice_says_so(cast, db):
    part = attendance.attendance(cast.lead.user, NOW, ZONE)
    for fig in (
        no_shows.control(part), no_shows.leads(part), no_shows.reminders(attendance.reminded(cast.lead.user, NOW)),
        hour_figures.used([]), hour_figures.load([]),
    ):
        assert len(fig.data) == 0
        assert fig.layout.annotations[0].text == "Nothing to draw yet"
    assert load_by_week([]) == {}


@pytest.mark.parametrize("address", ["/practice/no-shows/", "/practice/hours/"])
def test_pages_and_files_tell_the_same_weeks(cast, book, browse, address, django_assert_num_queries):
    with time_machine.travel(NOW, tick=False):
        lead = browse(cast.lead.user)
        text = lead.get(address).content.decode()
        rows = lead.get(f"{address}table.csv").content.decode().splitlines()
        lead.get(address)
        with django_assert_num_queries({"/practice/no-shows/": 8, "/practice/hours/": 20}[address]):
            lead.get(address)
    assert "style=" not in text
    assert not {"Quill", "Marsh"} & set(text.split())       # nobody's name: nothing here is about a client
    assert len(rows) == {"/practice/no-shows/": 27, "/practice/hours/": 49}[address]
    assert text.count("<caption>") == {"/practice/no-shows/": 3, "/practice/hours/": 3}[address]
