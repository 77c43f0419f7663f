"""A clinician's own calendar as busy time: held against recurring-ical-events, and files that cannot be used."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime, timedelta

import pytest
import recurring_ical_events
import time_machine
from django.core.management import CommandError, call_command
from icalendar import Calendar

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Absence
from clinic.booking.queries import openings
from clinic.booking.rules.busy import Unreadable, busy_time, joined
from clinic.people.rules import zones
from tests.conftest import NOW

LONDON = "Europe/London"
FIRST, LAST = date(2026, 3, 2), date(2026, 8, 31)


def file_of(*events: str) -> bytes:
    body = "".join(f"BEGIN:VEVENT\nUID:{number}@x.example\nDTSTAMP:20260101T000000Z\n{event.strip()}\nEND:VEVENT\n"
                   for number, event in enumerate(events))
    return f"BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//x//EN\n{body}END:VCALENDAR\n".replace("\n", "\r\n").encode()


def wall(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


REPEATING = {
    "weekly over the change of clocks": "DTSTART;TZID=Europe/London:20260105T090000\n"
    "DTEND;TZID=Europe/London:20260105T100000\nRRULE:FREQ=WEEKLY;BYDAY=MO,TH",
    "another zone": "DTSTART;TZID=America/New_York:20260303T083000\nDURATION:PT45M\nRRULE:FREQ=DAILY;COUNT=40",
    "until": "DTSTART:20260303T083000Z\nDURATION:PT45M\nRRULE:FREQ=DAILY;INTERVAL=3;UNTIL=20260601T083000Z",
    "last friday": "DTSTART;TZID=Europe/London:20260130T130000\nDURATION:PT2H\nRRULE:FREQ=MONTHLY;BYDAY=-1FR",
    "left out and added": "DTSTART;TZID=Europe/London:20260303T090000\nDURATION:PT1H\nRRULE:FREQ=WEEKLY\n"
    "EXDATE;TZID=Europe/London:20260317T090000,20260407T090000\nRDATE;TZID=Europe/London:20260320T150000",
    "once": "DTSTART:20260310T120000Z\nDTEND:20260310T133000Z",
}


@pytest.mark.parametrize("event", REPEATING.values(), ids=REPEATING.keys())
def test_the_times_are_those_an_independent_library_finds(event):
    content = file_of(event)
    found = recurring_ical_events.of(Calendar.from_ical(content)).between(
        datetime(2026, 3, 2, tzinfo=UTC), datetime(2026, 8, 31, 23, tzinfo=UTC)   # local midnight to midnight
    )
    theirs = [(each["DTSTART"].dt.astimezone(UTC), each["DTEND"].dt.astimezone(UTC)) for each in found]
    assert theirs
    assert busy_time(content, LONDON, FIRST, LAST) == joined(theirs)


def test_one_of_a_series_that_was_moved_counts_where_it_went():
    moved = file_of(REPEATING["weekly over the change of clocks"]).replace(
        b"END:VCALENDAR", b"BEGIN:VEVENT\r\nUID:0@x.example\r\nDTSTAMP:20260101T000000Z\r\n"
        b"RECURRENCE-ID;TZID=Europe/London:20260305T090000\r\nDTSTART;TZID=Europe/London:20260306T110000\r\n"
        b"DURATION:PT1H\r\nEND:VEVENT\r\nEND:VCALENDAR",
    )
    assert busy_time(moved, LONDON, FIRST, date(2026, 3, 8)) == [
        (wall("2026-03-02T09:00"), wall("2026-03-02T10:00")), (wall("2026-03-06T11:00"), wall("2026-03-06T12:00")),
    ]


def test_days_without_a_zone_are_days_of_the_site_and_what_takes_no_time_is_passed_over():
    content = file_of(
        "DTSTART;VALUE=DATE:20260329", "DTSTART:20260303T090000\nDTEND:20260303T100000",
        "DTSTART:20260304T090000Z\nDURATION:PT1H\nSTATUS:CANCELLED",
        "DTSTART:20260304T090000Z\nDURATION:PT1H\nTRANSP:TRANSPARENT",
        "DTSTART:20260304T090000Z", "DTSTART:20250304T090000Z\nDURATION:PT1H",
    )
    assert busy_time(content, LONDON, FIRST, LAST) == [
        (wall("2026-03-03T09:00"), wall("2026-03-03T10:00")),
        (wall("2026-03-29T00:00"), wall("2026-03-29T23:00")),   # a day of 23 hours
    ]


NASTY = {
    "no start": (file_of("SUMMARY:x"), "Event 1: DTSTART is missing"),
    "ends before": (file_of("DTSTART:20260303T100000Z\nDTEND:20260303T090000Z"), "Event 1: it ends before it starts"),
    "unknown zone": (file_of("DTSTART;TZID=Mars/Olympus:20260303T100000\nDURATION:PT1H"), "unknown zone 'Mars/Olympus'"),
    "every second": (file_of("DTSTART:20260303T100000Z\nDURATION:PT1H\nRRULE:FREQ=SECONDLY"), "RRULE: .*FREQ must be one of"),
    "never": (
        file_of("DTSTART:20260303T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30"), "no such day"
    ),
    "a place in a day": (
        file_of("DTSTART:20260303T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY;BYSETPOS=2"), "BYSETPOS does not"
    ),
    "since the flood": (file_of("DTSTART:00010101T100000Z\nDURATION:PT1H\nRRULE:FREQ=DAILY"), "before 1970"),
    "a day and a time": (file_of("DTSTART;VALUE=DATE:20260303\nDTEND:20260303T100000Z"), "both be days or both be times"),
    "the second one": (file_of(REPEATING["once"], "DTSTART;VALUE=DATE:20260303\nDURATION:PT1H"), "Event 2: .*whole days"),
    "garbled start": (file_of("DTSTART:tomorrow\nDURATION:PT1H"), "Event 1: DTSTART"),
    "garbled rule": (file_of("DTSTART:20260303T100000Z\nDURATION:PT1H\nRRULE:FREQ=OFTEN"), "Event 1: RRULE"),
    "a folder of zones": (
        file_of("DTSTART;TZID=Europe:20260303T100000\nDURATION:PT1H"), "Event 1: .*Europe|not an iCalendar"
    ),
    "a day no month has": (
        file_of("DTSTART:20260303T100000Z\nDURATION:PT1H\nRRULE:FREQ=MONTHLY;BYDAY=53MO"), "Event 1: its times or its RRULE"
    ),
    "nul": (file_of("DTSTART:20260303T100000Z\nSUMMARY:a\x00b"), "Line 8 holds a NUL byte"),
    "latin": (file_of("DTSTART:20260303T100000Z").replace(b"-//x", b"-//\xe9"), "Line 3 is not UTF-8"),
    "no calendar": (b"a,b,c\r\n1,2,3\r\n", "not an iCalendar file"),
    "empty": (b"", "not an iCalendar file"),
    "a card": (b"BEGIN:VCARD\r\nVERSION:4.0\r\nFN:x\r\nEND:VCARD\r\n", "not an iCalendar file"),
    "large": (b"x" * 4_000_001, "larger than 4 MB"),
}


@pytest.mark.parametrize(("content", "words"), NASTY.values(), ids=NASTY.keys())
def test_what_is_wrong_is_said_with_where(content, words):
    begun = time.process_time()
    with pytest.raises(Unreadable, match=words):
        busy_time(content, LONDON, FIRST, LAST)
    assert time.process_time() - begun < 5   # none of them is searched for ever


def test_a_folder_of_zones_is_no_zone():
    with pytest.raises(ValueError, match="not an IANA"):
        zones.zone("Europe")


def test_the_command_closes_the_time_and_a_second_file_replaces_the_first(cast, tmp_path, capsys):
    book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina,
        start=datetime(2026, 3, 10, 12, 30, tzinfo=UTC), now=NOW,
    )
    file = tmp_path / "own.ics"
    file.write_bytes(file_of(REPEATING["once"] + "\nSUMMARY:Something private"))
    with time_machine.travel(NOW, tick=False):
        call_command("import_calendar", str(file), clinician="mina@harbour.example", dry_run=True)
        assert not Absence.objects.exists()
        for _ in range(2):
            call_command("import_calendar", str(file), clinician="mina@harbour.example")
        assert "1 times are closed for booking. 1 visits already booked" in capsys.readouterr().out
        row = Absence.objects.get()
        assert (row.clinician, row.starts, row.ends) == (cast.mina, wall("2026-03-10T12:00"), wall("2026-03-10T13:30"))
        assert "private" not in str(Absence.objects.values())
        day = date(2026, 3, 10)
        found = openings(
            site=cast.site, visit_type=cast.follow_up, first_day=day, last_day=day, now=NOW, clinician=cast.mina, limit=500
        )
        assert found
        assert not any(each.starts < row.ends and each.starts + timedelta(minutes=30) > row.starts for each in found)
        file.write_bytes(file_of(REPEATING["once"], "SUMMARY:no start"))
        with pytest.raises(CommandError, match="Event 2: DTSTART is missing"):
            call_command("import_calendar", str(file), clinician="mina@harbour.example")
        assert Absence.objects.get() == row   # nothing half-saved
        for wrong in ({"clinician": "dara@harbour.example"}, {"clinician": "mina@harbour.example", "days": 0}):
            with pytest.raises(CommandError, match="--"):
                call_command("import_calendar", str(file), **wrong)
        with pytest.raises(CommandError, match="cannot be opened"):
            call_command("import_calendar", str(tmp_path / "none.ics"), clinician="mina@harbour.example")
