"""After an update of the time zone database: visits ahead whose local time is not the one agreed are listed, and stay."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from clinic.booking.actions.book_series import book_series
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.models import Appointment
from clinic.booking.rechecking import shifted
from clinic.people.rules import zones
from tests.conftest import NOW

SPRING = datetime(2026, 3, 29, 1, tzinfo=UTC)   # London's clocks go forward


@pytest.fixture
def visits(cast):
    """Ten o'clock on four Tuesdays, the last one on the day before the clocks go forward, and one that is cancelled."""
    days = [datetime(2026, 3, 17).date() + timedelta(weeks=week) for week in range(4)]
    made, _ = book_series(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, days=days, at=time(10),
        only_good=False, now=NOW,
    )
    gone = book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.theo, now=NOW,
        start=datetime(2026, 4, 1, 9, tzinfo=UTC),
    )
    cancel_visit(by=cast.desk.user, appointment=gone, reason="client", now=NOW)
    return list(Appointment.objects.filter(series=made).order_by("starts"))


@pytest.fixture
def abolished(monkeypatch):
    """As if a law had abolished summer time in London: its rules become those of Lisbon's neighbour without any, UTC."""
    real = zones.zone

    def changed():
        monkeypatch.setattr(zones, "zone", lambda name: ZoneInfo("UTC") if name == "Europe/London" else real(name))

    return changed


def test_each_visit_keeps_what_the_clock_showed_when_it_was_agreed(cast, visits):
    assert [visit.offset_minutes for visit in visits] == [0, 0, 60, 60]
    moved = move_visit(
        by=cast.desk.user, appointment=visits[1], start=visits[3].starts + timedelta(hours=2), now=NOW
    )
    assert moved.offset_minutes == 60, "another agreement"


def test_visits_ahead_with_another_local_time_are_listed_and_none_is_moved(cast, visits, abolished):
    before = list(Appointment.objects.order_by("pk").values_list("pk", "starts", "version"))
    assert list(shifted(NOW)) == []
    abolished()
    found = list(shifted(NOW))
    assert [each.public_id for each in found] == [visit.public_id for visit in visits[2:]], "the cancelled one is left out"
    first = found[0]
    assert (first.agreed, first.shown) == (datetime(2026, 3, 31, 10), datetime(2026, 3, 31, 9))
    assert first.kept == datetime(2026, 3, 31, 10, tzinfo=UTC), "ten o'clock by the new rules"
    assert len(list(shifted(visits[2].starts))) == 1, "what has begun is not asked about"
    assert list(Appointment.objects.order_by("pk").values_list("pk", "starts", "version")) == before
    move_visit(by=cast.desk.user, appointment=visits[2], start=first.kept, now=NOW)
    assert len(list(shifted(NOW))) == 1, "agreed anew"


def test_it_is_one_query_however_many(visits, abolished, django_assert_num_queries):
    abolished()
    with django_assert_num_queries(1):
        assert len(list(shifted(NOW))) == 2


def test_the_command_lists_them_without_a_name(cast, visits, abolished):
    abolished()
    out = StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("recheck_future", stdout=out)
    lines, page = out.getvalue().splitlines(), f"/booking/{visits[2].public_id}/"
    assert lines[0] == f"{page} at Harbour Lane: agreed for 2026-03-31 10:00, now at 2026-03-31 09:00"
    assert lines[-1] == "2 visits have another local time than agreed. Nothing was moved."
    assert "Ada" not in out.getvalue()


@pytest.mark.django_db(transaction=True)
def test_visits_booked_before_the_step_get_what_the_clock_shows_today(cast, visits):
    with time_machine.travel(NOW, tick=False):
        executor = MigrationExecutor(connection)
        executor.migrate([("booking", "0010_group_visits")])
        executor = MigrationExecutor(connection)
        executor.migrate(executor.loader.graph.leaf_nodes())
    again = Appointment.objects.filter(series__isnull=False).order_by("starts")
    assert [visit.offset_minutes for visit in again] == [0, 0, 60, 60]
