"""Every path that can take a time, times every fault: one table, the same answers everywhere, and nothing left behind.

A path is a function that asks for a local day and time (or an instant) and gives back what was said: status, code, the fields
at fault, the openings and choices offered, and the sentence. Pages say in words what the API says in codes.
"""

from __future__ import annotations

import json
import re
from datetime import UTC, date, datetime, time, timedelta
from types import SimpleNamespace

import pytest
import time_machine

from clinic.booking.actions.book_series import book_series
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.import_visit import import_visit
from clinic.booking.daybook import day_book
from clinic.booking.localtime import start_of
from clinic.booking.models import Absence, Appointment, Claim, Room, VisitType, WorkingHours
from clinic.people.models import AuditEvent, Client
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.reminders.models import Message
from tests.booking.test_pages import text_of
from tests.conftest import NOW

DAY = date(2026, 3, 4)
GAP, TWICE = date(2026, 3, 29), date(2026, 10, 25)   # the clocks of London change at one in the morning, UTC


@pytest.fixture
def world(cast, browse):
    """Mina and Theo work nights as well, so that a time in a clock change lies inside hours; Ada has a visit to be moved."""
    with time_machine.travel(NOW, tick=False):
        for who in (cast.mina, cast.theo):
            WorkingHours.objects.create(
                clinician=who, site=cast.site, rule="FREQ=DAILY", first_day=date(2026, 3, 1), starts=time(0), ends=time(5)
            )
        VisitType.objects.update(clients_may_book=True)
        yield SimpleNamespace(cast=cast, desk=browse(cast.desk.user), ada=browse(cast.ada.user))


def book(cast, day=DAY, at=time(15), client=None, clinician=None, **more):
    return book_visit(
        by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=clinician or cast.mina, now=NOW,
        start=zones.instant(day, at, cast.site.zone), **more,
    )


def said(status, code="", fields=(), openings=(), choices=(), sentence=""):
    return SimpleNamespace(
        status=status, code=code, fields=set(fields), openings=list(openings), choices=list(choices), sentence=sentence
    )


def of_api(answer):
    body = answer.json()
    return said(
        answer.status_code, body.get("title", ""), body.get("errors", {}), body.get("openings", []), body.get("choices", []),
        body.get("detail", ""),
    )


def send(browser, path, body):
    return of_api(browser.post(f"/api/v1/{path}", json.dumps(body), content_type="application/json"))


def local(day, at):
    return {"local": {"day": day.isoformat(), "time": f"{at:%H:%M}"}}


def create_by_api(world, day, at):
    cast = world.cast
    who = {"client": str(cast.ada.public_id), "clinician": str(cast.mina.public_id), "visit_type": "follow-up"}
    return send(world.desk, "appointments", {**who, **local(day, at)})


def move_by_api(world, day, at):
    visit = Appointment.objects.filter(client=world.cast.ada).last() or book(world.cast)
    return send(world.desk, f"appointments/{visit.public_id}/move", local(day, at))


def of_page(answer):
    """What a page says, with the codes that its words stand for."""
    words = text_of(answer)
    codes = {
        "slot_taken": ("already has a visit", "No room is free", "not free any more"), "off_grid": ("full five minutes",),
        "in_the_past": ("already over",), "outside_hours": ("is not working",), "too_far": ("two years",),
        "nonexistent_time": ("clocks go forward",), "ambiguous_time": ("clocks go back",),
    }
    code = next((code for code, signs in codes.items() if any(sign in words for sign in signs)), "")
    found = answer.content.decode()
    return said(
        answer.status_code, code, {"start"} if code else (), re.findall(r'name="(?:opening|start)"', found),
        re.findall(r'value="([^"]+)"', found.partition("Which time do you mean?")[2].partition("</section>")[0]), words,
    )


def create_on_the_page(world, day, at):
    cast = world.cast
    form = {"own_day": day.isoformat(), "own_time": f"{at:%H:%M}", "own_clinician": str(cast.mina.public_id),
            "visit_type": "follow-up"}
    return of_page(world.desk.post(f"/booking/new/?client={cast.ada.public_id}", form))


def move_on_the_page(world, day, at):
    visit = Appointment.objects.filter(client=world.cast.ada).last() or book(world.cast)
    form = {"own_day": day.isoformat(), "own_time": f"{at:%H:%M}", "own_clinician": str(world.cast.mina.public_id)}
    return of_page(world.desk.post(f"/booking/{visit.public_id}/move/", form))


def of_action(work):
    try:
        work()
    except Refusal as refusal:
        blocked = refusal.numbers.get("blocked")
        if blocked:   # a series says it of each date
            only = blocked[0]
            return said(400 if only["choices"] else refusal.status, only["code"], {"start"}, only["openings"],
                        only["choices"], only["sentence"])
        return said(
            refusal.status, refusal.code, refusal.fields, refusal.numbers.get("openings", []),
            refusal.numbers.get("choices", []), refusal.sentence,
        )
    return said(201)


def in_a_series(world, day, at):
    cast = world.cast
    return of_action(lambda: book_series(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, days=[day], at=at,
        only_good=False, now=NOW,
    ))


BY_STAFF = {
    "create, API": create_by_api, "move, API": move_by_api, "create, page": create_on_the_page,
    "move, page": move_on_the_page, "series": in_a_series,
}
WRONG_STARTS = {
    "off_grid": (DAY, time(10, 2)), "in_the_past": (date(2026, 3, 2), time(0, 30)), "outside_hours": (DAY, time(7)),
    "too_far": (date(2029, 3, 5), time(10)),
}


def counts():
    return [model.objects.count() for model in (Appointment, Claim, Message, AuditEvent)]


@pytest.mark.parametrize("code", WRONG_STARTS)
@pytest.mark.parametrize("path", BY_STAFF)
def test_a_start_that_no_visit_can_have_is_a_fault_of_the_field_start(world, path, code):
    if path.startswith("move"):
        book(world.cast)
    before = counts()
    answer = BY_STAFF[path](world, *WRONG_STARTS[code])
    assert (answer.code, answer.fields) == (code, {"start"})
    assert answer.status == (409 if path == "series" else 400), "a series is in conflict as a whole"
    assert counts() == before
    assert BY_STAFF[path](world, DAY, time(10)).status in (200, 201, 302), "its neighbour is taken"


@pytest.mark.parametrize(("day", "code"), [(GAP, "nonexistent_time"), (TWICE, "ambiguous_time")])
@pytest.mark.parametrize("path", [path for path in BY_STAFF if "page" not in path])
def test_a_time_in_a_clock_change_is_asked_about_and_each_choice_can_be_booked(world, path, day, code):
    cast = world.cast
    if path.startswith("move"):
        book(cast)
    before = counts()
    answer = BY_STAFF[path](world, day, time(1, 30))
    assert (answer.status, answer.code, len(answer.choices)) == (400, code, 2)
    assert counts() == before
    instants = [datetime.fromisoformat(choice["start"]) for choice in answer.choices]
    first, second = (instant.astimezone(UTC) for instant in instants)
    assert second - first == timedelta(hours=1), "two different moments, whatever the clock shows"
    for client, instant in zip((cast.ada, cast.bo), instants, strict=True):
        made = book_visit(
            by=cast.desk.user, client=client, visit_type=cast.follow_up, clinician=cast.mina, now=NOW, start=instant
        )
        assert made.starts == instant


@pytest.mark.parametrize(("day", "code"), [(GAP, "nonexistent_time"), (TWICE, "ambiguous_time")])
@pytest.mark.parametrize("path", ["create, page", "move, page"])
def test_the_pages_ask_with_a_button_for_each_choice(world, path, day, code):
    if path.startswith("move"):
        book(world.cast)
    before = counts()
    answer = BY_STAFF[path](world, day, time(1, 30))
    assert (answer.status, answer.code, len(answer.choices)) == (400, code, 2)
    assert counts() == before
    starts = []
    for choice in answer.choices:
        address = f"/booking/new/?client={world.cast.ada.public_id}"
        if path.startswith("move"):
            address = f"/booking/{Appointment.objects.get(client=world.cast.ada).public_id}/move/"
        assert world.desk.post(address, {"opening": choice, "visit_type": "follow-up"}).status_code == 302
        starts.append(Appointment.objects.order_by("version", "pk").last().starts)
    assert starts[1] - starts[0] == timedelta(hours=1)


def held_by(cast, resource):
    """What holds Wednesday at ten: Mina; every room; or Ada herself."""
    if resource == "clinician":
        book(cast, at=time(10), client=cast.bo)
        return "Mina"
    if resource == "client":
        book(cast, at=time(10), clinician=cast.theo)
        return ""
    Room.objects.filter(pk=cast.hall.pk).delete()
    book(cast, at=time(10), client=cast.bo, clinician=cast.theo, room=cast.room)
    return "Room 1"


@pytest.mark.parametrize("resource", ["clinician", "room", "client"])
@pytest.mark.parametrize("path", BY_STAFF)
def test_a_taken_time_is_409_names_who_is_in_the_way_and_offers_the_next(world, path, resource):
    cast = world.cast
    if path.startswith("move"):
        visit = book(cast)
        assert visit.client == cast.ada
    name = held_by(cast, resource)
    before = counts()
    answer = BY_STAFF[path](world, DAY, time(10, 15))
    assert (answer.status, answer.code) == (409, "slot_taken")
    assert name in answer.sentence
    assert answer.openings
    assert counts() == before, "nothing is half written"


def test_bringing_back_a_visit_whose_time_has_gone_is_409_with_the_next(world):
    cast = world.cast
    visit = book(cast, at=time(10))
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=NOW)
    book(cast, at=time(10), client=cast.bo)
    before = counts()
    answer = send(world.desk, f"appointments/{visit.public_id}/mark", {"status": "booked"})
    assert (answer.status, answer.code, "Mina" in answer.sentence) == (409, "slot_taken", True)
    assert answer.openings
    assert counts() == before


def own_by_api(world, instant):
    return send(world.ada, "me/visits", {"kind": "follow-up", "start": instant.isoformat()})


def own_on_the_page(world, instant):
    return of_page(world.ada.post("/portal/visits/new/?kind=follow-up", {"start": instant.isoformat()}))


def own_move_by_api(world, instant):
    visit = Appointment.objects.filter(client=world.cast.ada, starts__gt=NOW).first() or book(world.cast)
    return send(world.ada, f"me/visits/{visit.public_id}/move", {"start": instant.isoformat()})


BY_CLIENT = {"book, API": own_by_api, "book, page": own_on_the_page, "move, API": own_move_by_api}


@pytest.mark.parametrize("fault", ["taken", "off_grid", "in_the_past", "outside_hours"])
@pytest.mark.parametrize("path", BY_CLIENT)
def test_a_client_gets_openings_only_and_is_told_of_others(world, path, fault):
    cast = world.cast
    if path.startswith("move"):
        book(cast)
    held_by(cast, "clinician")
    day, at = {**WRONG_STARTS, "taken": (DAY, time(10))}[fault]
    before = counts()
    answer = BY_CLIENT[path](world, zones.instant(day, at, cast.site.zone))
    if fault != "taken" and path.startswith("move"):
        assert (answer.status, answer.code) == (400, fault)
    else:   # what is shown are openings: anything else is none of them
        assert (answer.status, answer.code) == (409, "slot_taken")
        assert answer.openings
    assert counts() == before


def test_no_room_with_what_the_visit_needs_is_said_and_a_room_elsewhere_is_not_there(world):
    cast = world.cast
    VisitType.objects.filter(code="follow-up").update(room_features=["pool"])
    cast.follow_up.refresh_from_db()
    assert of_action(lambda: book(cast, at=time(10))).code == "no_room"
    wrong = of_action(lambda: book(cast, at=time(10), room=cast.room))
    assert (wrong.status, wrong.code, wrong.fields) == (400, "invalid", {"room"})
    assert not Appointment.objects.exists()


@pytest.mark.parametrize("minutes", [0, -5, 481])
def test_no_visit_lasts_nothing_less_than_nothing_or_a_whole_day(world, minutes):
    cast = world.cast

    def brought(length):
        return import_visit(
            by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, now=NOW, minutes=length,
            start=datetime(2026, 3, 4, 10, tzinfo=UTC),
        )

    wrong = of_action(lambda: brought(minutes))
    assert (wrong.status, wrong.code, wrong.fields) == (400, "invalid", {"minutes"})
    assert not Appointment.objects.exists()
    assert brought(1).ends == datetime(2026, 3, 4, 10, 1, tzinfo=UTC)


@pytest.mark.parametrize("value", [None, "", 7, [], {}], ids=str)
@pytest.mark.parametrize("field", ["client", "clinician", "visit_type", "start"])
def test_a_field_that_holds_nothing_is_named(world, field, value):
    cast = world.cast
    body = {
        "client": str(cast.ada.public_id), "clinician": str(cast.mina.public_id), "visit_type": "follow-up",
        "start": "2026-03-04T10:00:00+00:00",
    }
    before = counts()
    answer = send(world.desk, "appointments", {**body, field: value})
    if value == 7 and field != "start":   # a number reads as a key or a code that nobody has
        assert answer.status == 404
    else:
        assert (answer.status, answer.code, answer.fields) == (400, "invalid", {field})
    del body[field]
    assert send(world.desk, "appointments", body).status == 400
    assert counts() == before


def test_a_series_of_twelve_with_three_clashes_saves_nothing_until_the_nine_are_chosen(world):
    cast = world.cast
    days = [DAY + timedelta(weeks=week) for week in range(12)]
    for week in (1, 4, 9):
        book(cast, days[week], time(10), client=cast.bo)
    Absence.objects.create(
        clinician=cast.theo, starts=NOW, ends=NOW + timedelta(days=90)
    )   # somebody else's absence is in nobody's way
    before = counts()

    def twelve(only_good):
        return book_series(
            by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, days=days, at=time(10),
            only_good=only_good, now=NOW,
        )

    with pytest.raises(Refusal) as caught:
        twelve(False)
    assert (caught.value.status, caught.value.code) == (409, "series_blocked")
    assert [each["day"] for each in caught.value.numbers["blocked"]] == [days[week].isoformat() for week in (1, 4, 9)]
    assert all(each["code"] == "slot_taken" and each["openings"] for each in caught.value.numbers["blocked"])
    assert counts() == before
    made, left_out = twelve(True)
    assert (Appointment.objects.filter(series=made).count(), len(left_out)) == (9, 3)


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 14), 24), (date(2026, 3, 28), 23), (date(2026, 10, 24), 25), (date(2026, 10, 25), 25)],
    ids=str,
)
def test_a_visit_over_midnight_stands_on_both_days_is_counted_once_and_claims_both(world, day, hours):
    """Half past eleven to half past twelve: into the day of 23 hours, into and out of the one of 25."""
    cast = world.cast
    begin = start_of(day, time(23, 30), cast.site.zone)
    long = VisitType.objects.create(code="night", name="Night", minutes=60)
    WorkingHours.objects.create(
        clinician=cast.mina, site=cast.site, rule="FREQ=DAILY", first_day=date(2026, 3, 1), starts=time(22), ends=time(23, 59)
    )
    visit = import_visit(
        by=cast.desk.user, client=cast.ada, visit_type=long, clinician=cast.mina, start=begin, now=NOW
    )
    days = [day, day + timedelta(days=1)]
    shown = [day_book(cast.desk.user, cast.site, each) for each in days]
    assert [[row.pk for column in each.columns for row in column.visits] for each in shown] == [[visit.pk], [visit.pk]]
    assert [each.coming for each in shown] == [1, 0]
    assert {(each.end - each.begin) // timedelta(hours=1) for each in shown} >= {hours}
    cells = Claim.objects.filter(resource="client").values_list("cell", flat=True)
    midnight = zones.day_bounds(days[1], cast.site.zone)[0].timestamp() // 300
    assert (len(cells), sum(cell < midnight for cell in cells)) == (12, 6)
    assert Client.objects.count() == 2
