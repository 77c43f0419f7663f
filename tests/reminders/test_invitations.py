"""Mails about a visit carry an invitation that a calendar takes in, brings up to date and takes back.

RFC 5546 (iTIP) sections 3.2.2 and 3.2.5 say which properties a REQUEST and a CANCEL must have, RFC 6047 (iMIP) section 2.4
how they travel by mail: a text/calendar part whose `method` is that of the calendar inside.
"""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
import recurring_ical_events
from icalendar import Calendar

from clinic.booking.actions.book_series import book_series
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_series import cancel_series
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.confirm_visit import confirm_visit
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.feeds import calendar
from clinic.booking.rules import ical
from clinic.people.models import Client
from tests.conftest import NOW

START = datetime(2026, 3, 10, 10, tzinfo=UTC)
MUST = {"DTSTAMP", "ORGANIZER", "ATTENDEE", "SEQUENCE", "UID"}   # of both methods


@pytest.fixture
def visit(cast):
    return book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=START, now=NOW
    )


def invited(letter):
    """(method of the part, calendar, event) of a letter; the plain words stand first, for those who read no calendar."""
    plain, part = letter.iter_parts()
    assert letter.get_content_type() == "multipart/alternative"
    assert (plain.get_content_type(), part.get_content_type()) == ("text/plain", "text/calendar")
    assert part.get_content_charset() == "utf-8"
    body = part.get_payload(decode=True)
    assert all(len(line) <= 75 for line in body.splitlines())
    read = Calendar.from_ical(body)
    (event,) = read.walk("VEVENT")
    return part.get_param("method"), read, event


def test_booked_moved_and_cancelled_are_one_event_of_rising_sequence(visit, cast, deliver, server):
    assert deliver() == {"sent": 1}
    move_visit(by=cast.desk.user, appointment=visit, start=START + timedelta(hours=1), now=NOW + timedelta(minutes=1))
    assert deliver(minutes=1) == {"sent": 1}
    visit.refresh_from_db()
    cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=NOW + timedelta(minutes=2))
    assert deliver(minutes=2) == {"sent": 1}
    methods, seen = [], []
    for letter in server.letters:
        method, read, event = invited(letter)
        methods.append(method)
        assert str(read["METHOD"]) == method
        assert set(event) >= MUST | {"DTSTART", "SUMMARY"}
        assert str(event["UID"]) == f"{visit.public_id}@intervale"
        assert str(event["ORGANIZER"]).startswith("mailto:")
        assert str(event["ORGANIZER"]).removeprefix("mailto:") in letter["From"]
        assert event["ORGANIZER"].params["CN"] == "Harbour Lane"
        assert (str(event["ATTENDEE"]), event["ATTENDEE"].params["RSVP"]) == ("mailto:ada@client.example", "FALSE")
        assert str(event["SUMMARY"]) == "Visit"
        for word in (b"Quill", b"Mina", b"Follow-up", b"hip", b"Ada"):
            assert word not in read.to_ical()
        seen.append((int(event["SEQUENCE"]), event["DTSTAMP"].dt, event["DTSTART"].dt, str(event["STATUS"])))
    assert methods == ["REQUEST", "REQUEST", "CANCEL"]
    assert seen == [
        (0, NOW, START, "CONFIRMED"),
        (1, NOW + timedelta(minutes=1), START + timedelta(hours=1), "CONFIRMED"),
        (2, NOW + timedelta(minutes=2), START + timedelta(hours=1), "CANCELLED"),
    ]


def in_series(letter):
    """The events of a mail about several visits, by UID, each in a part of its own; the plain words stand first."""
    plain, *parts = letter.iter_parts()
    assert (letter.get_content_type(), plain.get_content_type()) == ("multipart/mixed", "text/plain")
    found = {}
    for part in parts:
        assert (part.get_content_type(), part.get_param("method")) == ("text/calendar", "REQUEST")
        read = Calendar.from_ical(part.get_payload(decode=True))
        assert str(read["METHOD"]) == "REQUEST"
        (event,) = read.walk("VEVENT")
        assert set(event) >= MUST | {"DTSTART", "SUMMARY"}
        found[str(event["UID"])] = event
    assert len(found) == len(parts), "a UID a part: RFC 5546 section 3.2.2"
    return found


@pytest.fixture
def four(cast):
    """Four Tuesdays."""
    days = [START.date() + timedelta(weeks=week) for week in range(4)]
    series, _ = book_series(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, days=days, at=time(10),
        only_good=False, now=NOW,
    )
    return list(series.visits.order_by("starts"))


def test_the_mail_about_a_series_invites_to_each_visit_of_it(four, deliver, server):
    assert deliver() == {"sent": 1}
    events = in_series(server.letters[0])
    assert [int(event["SEQUENCE"]) for event in events.values()] == [0, 0, 0, 0]
    assert {uid: event["DTSTART"].dt for uid, event in events.items()} == {
        ical.uid_of(visit.public_id): visit.starts for visit in four
    }


def test_of_a_series_the_visit_moved_is_updated_and_the_one_removed_is_cancelled_by_itself(four, cast, deliver, server):
    deliver()
    calendar_of_hers = in_series(server.letters[0])
    _, moved, removed, last = four
    move_visit(by=cast.desk.user, appointment=moved, start=moved.starts + timedelta(hours=1), now=NOW + timedelta(minutes=1))
    cancel_visit(by=cast.desk.user, appointment=removed, reason="client", now=NOW + timedelta(minutes=1))
    assert deliver(minutes=1) == {"sent": 2}
    told = {str(event["UID"]): (method, event) for method, _, event in map(invited, server.letters[1:])}
    assert {uid: method for uid, (method, _) in told.items()} == {
        ical.uid_of(moved.public_id): "REQUEST", ical.uid_of(removed.public_id): "CANCEL",
    }
    for uid, (_, event) in told.items():
        assert int(event["SEQUENCE"]) == 1 > int(calendar_of_hers[uid]["SEQUENCE"])
    cancel_series(by=cast.desk.user, appointment=last, reason="client", now=NOW + timedelta(minutes=2), scope="all")
    assert deliver(minutes=2) == {"sent": 3}
    assert {invited(letter)[0] for letter in server.letters[3:]} == {"CANCEL"}


def test_what_was_called_off_before_the_mail_left_is_not_invited_to(four, cast, deliver, server):
    cancel_visit(by=cast.desk.user, appointment=four[2], reason="client", now=NOW)
    deliver()
    events = next(in_series(letter) for letter in server.letters if letter.get_content_type() == "multipart/mixed")
    assert ical.uid_of(four[2].public_id) not in events
    assert len(events) == 3


def test_a_yes_to_a_time_that_was_held_brings_the_invitation(cast, deliver, server):
    held = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=START, now=NOW, held=True
    )
    deliver()
    assert server.letters[0].get_content_type() == "text/plain", "a question is no invitation"
    confirm_visit(by=cast.ada.user, appointment=held, now=NOW + timedelta(minutes=1))
    assert deliver(minutes=1) == {"sent": 1}
    method, _, event = invited(server.letters[1])
    assert (method, str(event["STATUS"]), event["DTSTART"].dt) == ("REQUEST", "CONFIRMED", START)


def test_the_mail_and_the_feed_speak_of_the_same_event(visit, cast, deliver, server):
    deliver()
    _, read, invitation = invited(server.letters[0])
    feed, _ = make_feed(by=cast.ada.user, kind="client", now=NOW)
    (fed,) = Calendar.from_ical(calendar(feed, NOW)).walk("VEVENT")
    for name in ("UID", "SEQUENCE", "SUMMARY", "STATUS", "LOCATION"):
        assert str(invitation[name]) == str(fed[name])
    (found,) = recurring_ical_events.of(read).at(START.date())
    assert (found["DTSTART"].dt, found["DTEND"].dt) == (fed["DTSTART"].dt, fed["DTEND"].dt)


def test_in_the_client_s_language_and_with_the_site_s_accents(cast, deliver, server, request):
    Client.objects.filter(pk=cast.ada.pk).update(language="es")
    cast.site.name = 'Clínica "Del Puerto"; número 3, ' + "ñ" * 40
    cast.site.save()
    cast.ada.refresh_from_db()
    request.getfixturevalue("visit")
    deliver()
    _, _, event = invited(server.letters[0])
    assert (str(event["SUMMARY"]), str(event["LOCATION"])) == ("Visita", cast.site.name)
    assert event["ORGANIZER"].params["CN"] == cast.site.name.replace('"', "'")


def test_a_reminder_carries_none(visit, cast, deliver, queue, server):
    queue()
    deliver()
    notes = [letter for letter in server.letters if letter["Subject"].startswith("Note")]
    assert [letter.get_content_type() for letter in notes] == ["text/plain"]


def test_nothing_can_be_slipped_in_by_an_address():
    entry = ical.Entry("u@intervale", 0, START, START + timedelta(hours=1), "Visit", "Here", ical.CONFIRMED, NOW)
    between = ical.Between("clinic@x.example", 'A "B"\r\nX-BAD:1', "a@x.example\r\nATTENDEE:mailto:eve@x.example\x00")
    body = ical.calendar_of([entry], method="REQUEST", stamp=NOW, between=between)
    lines = body.replace(b"\r\n ", b"").split(b"\r\n")
    assert sum(line.startswith(b"ATTENDEE") for line in lines) == 1
    assert not any(line.startswith(b"X-BAD") for line in lines)
    assert b"\x00" not in body
