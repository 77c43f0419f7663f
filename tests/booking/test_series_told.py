"""The one mail about a series is about the visits that stand when it leaves, whatever was changed before."""

from __future__ import annotations

from datetime import timedelta

import pytest

from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.models import Appointment
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.models import Message
from tests.booking.test_series import series  # noqa: F401  fixture

pytestmark = pytest.mark.django_db


def told(now) -> list[tuple[str, str]]:
    """(kind, day) of what left."""
    deliver_due(now=now + timedelta(minutes=1), worker="test")
    return [(row.kind, row.values["day"]) for row in Message.objects.filter(state="sent").order_by("pk")]


def first(made) -> Appointment:
    return Appointment.objects.filter(series=made).earliest("starts")


def test_the_first_is_cancelled_before_the_mail_has_left(cast, series, now):   # noqa: F811
    made, _ = series()
    cancel_visit(by=cast.desk.user, appointment=first(made), reason="other", now=now)
    assert ("visits_booked", "Tuesday 24 March") in told(now)
    assert ("visits_booked", "Tuesday 17 March") not in told(now)


def test_the_first_is_moved_before_the_mail_has_left(cast, series, now):   # noqa: F811
    made, _ = series()
    visit = first(made)
    move_visit(by=cast.desk.user, appointment=visit, start=visit.starts + timedelta(days=1), now=now)
    assert ("visits_booked", "Wednesday 18 March") in told(now)


def test_nothing_is_said_again_once_it_has_left(cast, series, now):   # noqa: F811
    made, _ = series()
    assert told(now) == [("visits_booked", "Tuesday 17 March")]
    cancel_visit(by=cast.desk.user, appointment=first(made), reason="other", now=now)
    assert [kind for kind, _ in told(now)] == ["visits_booked", "visit_cancelled"]


def test_a_series_that_is_cancelled_whole_is_not_said_to_be_booked(cast, series, now):   # noqa: F811
    made, _ = series()
    for visit in Appointment.objects.filter(series=made).order_by("starts"):
        cancel_visit(by=cast.desk.user, appointment=visit, reason="other", now=now)
    assert "visits_booked" not in {kind for kind, _ in told(now)}
