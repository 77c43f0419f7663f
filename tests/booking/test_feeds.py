"""Calendars at secret addresses: what is in them, who can fetch them, and what a subscriber makes of a change.

Held against RFC 5545 line by line (sections 3.1, 3.3.5, 3.6.1, 3.8.7), and read back by icalendar and recurring-ical-events.
"""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime, timedelta

import pytest
import recurring_ical_events
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.end_feed import end_feed
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.actions.undo_change import undo_change
from clinic.booking.feeds import calendar
from clinic.booking.models import CalendarFeed
from clinic.booking.rules import ical
from clinic.people.logs import LineFormatter
from clinic.people.models import AuditEvent, Client
from clinic.people.refusal import NotThere, Refusal
from tests.conftest import NOW

START = datetime(2026, 3, 10, 10, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def _at_nine():
    with time_machine.travel(NOW, tick=False):
        yield


def book(cast, start=START, client=None):
    return book_visit(
        by=cast.desk.user, client=client or cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=NOW
    )


def made(user, kind="client", room=None):
    feed, secret = make_feed(by=user, kind=kind, room=room, now=NOW)
    return feed, f"/calendar/{secret}.ics"


def events(body):
    return list(Calendar.from_ical(body).walk("VEVENT"))


class Subscriber:
    """A calendar program as RFC 5545 and RFC 5546 section 2.1.5 have it: one event per UID, the higher SEQUENCE wins."""

    def __init__(self):
        self.known = {}

    def fetch(self, body):
        for event in events(body):
            uid, sequence = str(event["UID"]), int(event["SEQUENCE"])
            old = self.known.get(uid)
            if old is None or (sequence, event["DTSTAMP"].dt) >= (int(old["SEQUENCE"]), old["DTSTAMP"].dt):
                self.known[uid] = event
        return list(self.known.values())


def test_each_feed_says_when_and_nothing_of_whom_or_why(cast, browse):
    visit = book(cast)
    for user, kind, room, title in (
        (cast.ada.user, "client", None, "Visit"), (cast.mina.user, "clinician", None, "Visit"),
        (cast.desk.user, "room", visit.room, "Busy"),
    ):
        _, address = made(user, kind, room)
        answer = browse().get(address)
        assert answer["Content-Type"] == "text/calendar; charset=utf-8"
        (event,) = events(answer.content)
        assert (str(event["SUMMARY"]), event["DTSTART"].dt) == (title, START)
        assert str(event["UID"]) == f"{visit.public_id}@intervale"
        assert event["DTEND"].dt == START + timedelta(minutes=35 if kind == "room" else 30)   # the room's clean-up
        for word in (b"Ada", b"Quill", b"Mina", b"hip", b"Follow-up"):
            assert word not in answer.content


def test_the_lines_are_as_the_standard_wants_them(cast):
    cast.site.name = "Straße, Ümlaut\r\nATTENDEE:mailto:x@y.example " + "ä" * 30   # 80 letters at most
    cast.site.save()
    book(cast)
    feed, _ = made(cast.ada.user)
    body = calendar(feed, NOW)
    assert body.endswith(b"END:VCALENDAR\r\n")
    lines = body.split(b"\r\n")
    assert all(len(line) <= 75 and b"\n" not in line for line in lines)   # RFC 5545, 3.1: octets
    assert all(line.decode("utf-8") is not None for line in lines)
    unfolded = body.replace(b"\r\n ", b"").decode().split("\r\n")
    assert not any(line.startswith("ATTENDEE") for line in unfolded)
    assert unfolded[:4] == ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Intervale//Visits//EN", "CALSCALE:GREGORIAN"]
    for line in ("DTSTART:20260310T100000Z", "DTEND:20260310T103000Z", "LAST-MODIFIED:20260302T090000Z", "SEQUENCE:0"):
        assert line in unfolded
    assert not any("TZID" in line for line in unfolded)
    assert ical.plain("a\x00b\x0bc\td\n") == "abc\td\n"


def test_a_feed_survives_a_round_trip_and_an_independent_reader_finds_the_same_visits(cast):
    starts = [START + timedelta(days=day) for day in (0, 1, 20)]   # the last after the clocks went forward
    for start in starts:
        book(cast, start)
    feed, _ = made(cast.ada.user)
    body = calendar(feed, NOW)
    read = Calendar.from_ical(body)
    assert read.to_ical() == body
    found = recurring_ical_events.of(read).between(NOW, NOW + timedelta(days=60))
    assert sorted(event["DTSTART"].dt for event in found) == starts


def test_every_change_is_an_update_and_never_a_second_event(cast):
    visit = book(cast)
    feed, _ = made(cast.ada.user)
    program, seen = Subscriber(), []

    def look(at):
        (event,) = program.fetch(calendar(feed, at))
        seen.append((int(event["SEQUENCE"]), event["LAST-MODIFIED"].dt))
        return event

    assert str(look(NOW)["STATUS"]) == "CONFIRMED"
    move_visit(by=cast.desk.user, appointment=visit, start=START + timedelta(hours=2), now=NOW + MINUTE)
    assert look(NOW)["DTSTART"].dt == START + timedelta(hours=2)
    visit.refresh_from_db()
    undo_change(by=cast.desk.user, change=visit.changes.first(), now=NOW + 2 * MINUTE)
    assert look(NOW)["DTSTART"].dt == START
    visit.refresh_from_db()
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=NOW + 3 * MINUTE)
    event = look(NOW)
    assert (str(event["STATUS"]), str(event["TRANSP"])) == ("CANCELLED", "TRANSPARENT")
    visit.refresh_from_db()
    mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=NOW + 4 * MINUTE)
    assert str(look(NOW)["STATUS"]) == "CONFIRMED"
    visit.refresh_from_db()
    mark_visit(by=cast.desk.user, appointment=visit, status="entered-in-error", now=NOW + 5 * MINUTE)
    assert str(look(NOW)["STATUS"]) == "CANCELLED"
    assert seen == [(number, NOW + number * MINUTE) for number in range(6)]


def test_a_held_hour_is_tentative_until_it_is_confirmed(cast):
    visit = book(cast)
    visit.status = "pending"
    visit.save()
    feed, _ = made(cast.ada.user)
    assert str(events(calendar(feed, NOW))[0]["STATUS"]) == "TENTATIVE"
    mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=NOW + MINUTE)
    (event,) = events(calendar(feed, NOW))
    assert (str(event["STATUS"]), event["DTSTAMP"].dt) == ("CONFIRMED", NOW + MINUTE)


def test_each_sees_their_own(cast):
    mine, hers = book(cast), book(cast, START + timedelta(hours=1), client=cast.bo)
    uids = {key: f"{visit.public_id}@intervale" for key, visit in (("mine", mine), ("hers", hers))}

    def shown(user, kind, room=None):
        feed, _ = made(user, kind, room)
        return {str(event["UID"]) for event in events(calendar(feed, NOW))}

    assert shown(cast.ada.user, "client") == {uids["mine"]}
    assert shown(cast.mina.user, "clinician") == set(uids.values())
    assert shown(cast.theo.user, "clinician") == set()
    assert shown(cast.theo.user, "room", mine.room) == {
        uids[key] for key, visit in (("mine", mine), ("hers", hers)) if visit.room == mine.room
    }


def test_a_spanish_client_reads_spanish(cast):
    Client.objects.filter(pk=cast.ada.pk).update(language="es-MX")
    book(cast)
    feed, _ = made(cast.ada.user)
    assert str(events(calendar(feed, NOW))[0]["SUMMARY"]) == "Visita"


def test_what_has_not_changed_is_not_sent_again(cast, browse):
    visit = book(cast)
    _, address = made(cast.ada.user)
    first = browse().get(address)
    assert first["Cache-Control"] == "private, no-cache"
    assert first["Referrer-Policy"] == "no-referrer"
    again = browse().get(address, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=NOW)
    changed = browse().get(address, headers={"If-None-Match": first["ETag"]})
    assert changed.status_code == 200
    assert changed["ETag"] != first["ETag"]
    assert browse().head(address).content == b""
    assert browse().post(address).status_code == 405


@pytest.mark.parametrize("visits", [1, 6])
def test_a_feed_costs_two_questions_and_one_note_however_many_visits(cast, browse, visits):
    for number in range(visits):
        book(cast, START + timedelta(days=number) if number < 4 else START + timedelta(days=number + 3))
    _, address = made(cast.ada.user)
    with CaptureQueriesContext(connection) as asked:
        browse().get(address)
    assert len(asked) == 3
    with CaptureQueriesContext(connection) as asked:
        browse().get(address)   # within the minute: its last use is not noted again
    assert len(asked) == 2


@pytest.mark.parametrize("how", ["wrong", "ended", "deactivated", "archived", "another role", "left the site"])
def test_one_that_does_not_hold_is_the_same_nothing(cast, browse, how):
    book(cast)
    feed, address = made(cast.ada.user) if how != "left the site" else made(cast.desk.user, "room", cast.room)
    assert browse().get(address).status_code == 200
    if how == "wrong":
        address = address.replace(".ics", "x.ics")
    elif how == "ended":
        end_feed(by=cast.ada.user, feed=feed, now=NOW)
        end_feed(by=cast.ada.user, feed=feed, now=NOW)
        assert AuditEvent.objects.filter(verb="end_feed").count() == 1
    elif how == "archived":
        Client.objects.filter(pk=cast.ada.pk).update(archived=NOW)
    elif how == "left the site":
        cast.desk.sites.clear()
    else:
        cast.ada.user.is_active = how != "deactivated"
        cast.ada.user.role = "lead" if how == "another role" else "client"
        cast.ada.user.save()
    gone = browse().get(address)
    unknown = browse().get("/calendar/never-made.ics")
    nonce = re.compile(rb'nonce="[^"]*"|name="csrfmiddlewaretoken" value="[^"]*"')
    assert gone.status_code == unknown.status_code == 404
    assert nonce.sub(b"", gone.content) == nonce.sub(b"", unknown.content)


def test_only_the_hash_is_kept_and_the_path_is_never_logged(cast, browse, caplog, monkeypatch):
    _, address = made(cast.ada.user)
    secret = address.removeprefix("/calendar/").removesuffix(".ics")
    assert len(secret) >= 43   # 256 bits in base64url
    assert secret not in str(CalendarFeed.objects.values()) + str(AuditEvent.objects.values())
    assert CalendarFeed.objects.get().secret_hash != secret
    caplog.set_level(logging.DEBUG)
    browse().get(address)
    assert CalendarFeed.objects.get().last_used == NOW
    browse().get(address.replace(".ics", "x.ics"))
    monkeypatch.setattr("clinic.booking.actions.use_feed.calendar", lambda *a: 1 / 0)
    browser = browse()
    browser.raise_request_exception = False
    assert browser.get(address).status_code == 500
    lines = [LineFormatter().format(record) for record in caplog.records]
    assert any("Internal Server Error" in line for line in lines)
    assert secret not in "".join(lines)


def test_what_cannot_be_made(cast):
    for user, kind, room in (
        (cast.ada.user, "room", cast.room), (cast.ada.user, "clinician", None), (cast.desk.user, "client", None),
        (cast.mina.user, "client", None),
    ):
        with pytest.raises(NotThere):
            make_feed(by=user, kind=kind, room=room, now=NOW)
    with pytest.raises(Refusal, match="Choose a room"):
        make_feed(by=cast.desk.user, kind="room", now=NOW)
    for _ in range(10):
        made(cast.ada.user)
    with pytest.raises(Refusal, match="ten already"):
        made(cast.ada.user)


def test_staff_make_one_see_it_once_and_end_it(cast, browse):
    mina = browse(cast.mina.user)
    assert "My own visits" in mina.get("/booking/calendars/").content.decode()
    assert "My own visits" not in browse(cast.desk.user).get("/booking/calendars/").content.decode()
    page = mina.post("/booking/calendars/", {"of": "own"}).content.decode()
    address = re.search(r"https?://[^/]+(/calendar/[\w-]+\.ics)", page).group(1)
    assert browse().get(address).status_code == 200
    assert "/calendar/" not in mina.get("/booking/calendars/").content.decode().replace("/booking/calendars/", "")
    refused = mina.post("/booking/calendars/", {"of": "999999"})
    assert refused.status_code == 400
    assert "Choose one from the list." in refused.content.decode()
    mina.post(f"/booking/calendars/{CalendarFeed.objects.get().public_id}/end/")
    assert browse().get(address).status_code == 404


def test_a_client_makes_one_in_their_language(cast, browse):
    Client.objects.filter(pk=cast.ada.pk).update(language="es")
    ada = browse(cast.ada.user)
    page = ada.post("/portal/calendar/").content.decode()
    assert "Copie ahora esta dirección" in page
    address = re.search(r"https?://[^/]+(/calendar/[\w-]+\.ics)", page).group(1)
    assert browse().get(address).status_code == 200
    assert address not in ada.get("/portal/calendar/").content.decode()
    for _ in range(9):
        ada.post("/portal/calendar/")
    full = ada.post("/portal/calendar/")
    assert full.status_code == 409
    assert "Ya tiene diez" in full.content.decode()
    with CaptureQueriesContext(connection) as asked:
        ada.get("/portal/calendar/")
    assert len(asked) == 6   # session, user, client twice, count, page
