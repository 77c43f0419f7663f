"""Past every action: on every table of booking the database itself refuses what makes no sense, by raw SQL as well.

Each table has a row made by the actions; one value of it is changed for the worse. What is still fine is accepted.
"""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest
from django.apps import apps
from django.db import DataError, IntegrityError, connection, transaction

from clinic.booking.actions.book_series import book_series
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.close_days import close_days
from clinic.booking.actions.join_waitlist import join_waitlist
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.actions.offer_opening import offer_opening
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.vocab import Priority
from clinic.booking.waiting import matches
from tests.booking.conftest import TEN

BOOKING = {model.__name__: model for model in apps.get_app_config("booking").get_models()}
EARLIER = "2026-01-01 00:00:00+00:00"
MAY_BE_NULL = {"id"}   # the key itself: PostgreSQL says so in another way, and SQLite makes one


def columns():
    """Every column of every table of booking that must hold something."""
    for name, model in sorted(BOOKING.items()):
        for field in model._meta.concrete_fields:
            if not field.null and field.column not in MAY_BE_NULL:
                yield name, field.column


@pytest.fixture
def rows(cast, now, plan, join):
    """At least one row in each table, made as people make them."""
    more = {"by": cast.desk.user, "now": now}

    def book(client, start):
        return book_visit(client=client, visit_type=cast.follow_up, clinician=cast.mina, start=start, **more)

    join(cast.bo, plan(TEN + timedelta(days=1))[0].starts)
    book_series(
        client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, days=[date(2026, 3, 10), date(2026, 3, 17)],
        at=time(10), only_good=False, **more,
    )
    visit = move_visit(appointment=book(cast.ada, TEN), start=TEN + timedelta(hours=2), **more)
    join_waitlist(client=cast.bo, visit_type=cast.follow_up, priority=Priority.SOON, **more)
    freed = cancel_visit(appointment=book(cast.ada, TEN), reason="client", **more)
    offer_opening(freed=freed, chosen=matches(cast.desk.user, freed, now), minutes=60, **more)
    make_feed(by=cast.mina.user, kind="clinician", now=now)
    close_days(site=cast.site, days=[(date(2026, 12, 25), "Christmas Day")], **more)
    plan_away(
        site=cast.site, clinician=cast.mina, first_day=date(2026, 3, 10), last_day=date(2026, 3, 10), anyone=True, **more
    )
    return visit


def refused(model, where, changes):
    """Whether raw SQL that changes the rows so is refused; nothing is left of it."""
    values = list(changes.values())
    text = ", ".join(f"{column} = {value[1:]}" if str(value).startswith("=") else f"{column} = %s"
                     for column, value in changes.items())
    try:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute(
                    f"UPDATE {model._meta.db_table} SET {text} WHERE id = %s",
                    [*(value for value in values if not str(value).startswith("=")), where],
                )
                assert cursor.rowcount == 1
            raise Accepted
    except (IntegrityError, DataError):
        return True
    except Accepted:
        return False


class Accepted(Exception):
    """Takes an accepted change back again."""


def test_what_must_be_there_cannot_be_taken_away(rows):
    left = []
    for name, column in columns():
        row = BOOKING[name].objects.order_by("pk").first()
        assert row is not None, f"no {name} to try it on"
        if not refused(BOOKING[name], row.pk, {column: "=NULL"}):
            left.append(f"{name}.{column}")
    assert left == []


WRONG = [
    ("Appointment", {"ends": "=starts"}), ("Appointment", {"ends": EARLIER, "busy_until": EARLIER}),
    ("Appointment", {"busy_from": "=ends"}), ("Appointment", {"busy_until": "=starts"}),
    ("Appointment", {"status": "perhaps"}),
    ("Appointment", {"starts": "2026-03-03 12:02:00+00:00"}), ("Appointment", {"room_id": 10**9}),
    ("Appointment", {"clinician_id": 10**9}),
    ("GroupVisit", {"ends": "=starts"}), ("GroupVisit", {"busy_from": "=ends"}),
    ("GroupVisit", {"starts": "2026-03-04 10:02:00+00:00"}),
    ("GroupPlace", {"number": 0}), ("GroupPlace", {"number": 41}),
    ("Claim", {"appointment_id": 1}), ("Claim", {"appointment_id": "=NULL", "group_id": "=NULL"}),
    ("WorkingHours", {"ends": "=starts"}), ("Absence", {"ends": "=starts"}),
    ("SpecialHours", {"ends": "=starts"}), ("SpecialHours", {"ends": EARLIER}),
    ("VisitType", {"minutes": 0}), ("VisitType", {"minutes": -30}), ("VisitType", {"minutes": 481}),
    ("Away", {"last_day": "2026-01-01"}), ("ProposedMove", {"starts": "=NULL"}), ("ProposedMove", {"clinician_id": "=NULL"}),
    ("ProposedMove", {"state": "perhaps"}), ("Change", {"undone_at": EARLIER}),
    ("WaitlistEntry", {"priority": 9}), ("WaitlistEntry", {"earliest": "12:00", "latest": "12:00"}),
    ("Offer", {"visit_id": "=NULL"}), ("Offer", {"expires": "=NULL"}), ("CalendarFeed", {"kind": "perhaps"}),
]
FINE = [
    ("Appointment", {"ends": "2026-03-03 12:20:00+00:00"}), ("Appointment", {"status": "arrived"}),
    ("GroupPlace", {"number": 40}), ("VisitType", {"minutes": 1}), ("VisitType", {"minutes": 480}),
    ("Absence", {"starts": EARLIER}), ("WaitlistEntry", {"earliest": "12:00", "latest": "12:05"}),
]


@pytest.mark.parametrize(("what", "wrong"), [*((each, True) for each in WRONG), *((each, False) for each in FINE)], ids=str)
def test_values_that_make_no_sense_are_refused_and_their_neighbours_are_not(rows, what, wrong):
    name, changes = what
    row = rows if name == "Appointment" else BOOKING[name].objects.order_by("pk").first()
    if any(value == 10**9 for value in changes.values()):   # whether a key exists is judged at the transaction's end
        with transaction.atomic():
            BOOKING[name].objects.filter(pk=row.pk).update(**changes)
            with pytest.raises(IntegrityError):
                connection.check_constraints()
            transaction.set_rollback(True)
        return
    assert refused(BOOKING[name], row.pk, changes) is wrong


TWICE = {
    "Claim": ("resource", "resource_id", "cell"), "GroupPlace": ("group_id", "number"), "Room": ("site_id", "name"),
    "VisitType": ("code",), "ProposedMove": ("away_id", "appointment_id"), "Appointment": ("public_id",),
    "SpecialHours": ("public_id",), "Offer": ("visit_id",), "CalendarFeed": ("public_id",),
}


@pytest.mark.parametrize("name", TWICE)
def test_what_there_is_once_is_there_once(rows, name):
    """The row written a second time, but for its own key and what else is unique in it."""
    model = BOOKING[name]
    row = model.objects.order_by("pk").first()
    before = model.objects.count()
    names = [field.column for field in model._meta.concrete_fields if field.column != "id"]
    fresh = {field.column for field in model._meta.concrete_fields if field.unique} - {"id", *TWICE[name]}
    chosen = ", ".join("%s" if column in fresh else column for column in names)
    values = [f"{number:032x}" for number, column in enumerate(names) if column in fresh]
    sql = f"INSERT INTO {model._meta.db_table} ({', '.join(names)}) SELECT {chosen} FROM {model._meta.db_table} WHERE id = %s"
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, [*values, row.pk])
    assert model.objects.count() == before
