"""The database itself refuses an overlap, with the accepted neighbour beside each refusal."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import F

from clinic.booking.claiming import needs
from clinic.booking.models import Appointment, Claim

TEN = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)
CLINICIAN, ROOM, CLIENT = "appointment_clinician_free", "appointment_room_free", "appointment_client_free"


@pytest.fixture
def write(cast, now):
    """Write a visit past every action, as a faulty script would."""

    def written(start=TEN, status="booked", minutes=60, **who):
        people = {"client": cast.ada, "clinician": cast.mina, "room": cast.room, **who}
        ends = start + timedelta(minutes=minutes)
        with transaction.atomic():
            visit = Appointment.objects.create(
                site=cast.site, visit_type=cast.first, starts=start, ends=ends, busy_from=start, busy_until=ends,
                status=status, booked_by=cast.desk.user, booked_at=now, **people,
            )
            Claim.objects.bulk_create(
                Claim(appointment=visit, resource=resource, resource_id=key, cell=cell)
                for resource, key, cells in needs(visit) for cell in cells
            )
        return visit

    return written


def wall(postgres):
    """What the message of the refusal names: the exclusion constraint on PostgreSQL, the claims elsewhere."""
    return postgres if connection.vendor == "postgresql" else "booking_claim"


@pytest.mark.parametrize(("same", "constraint"), [("clinician", CLINICIAN), ("room", ROOM), ("client", CLIENT)])
def test_one_resource_is_never_in_two_visits_at_once(cast, write, same, constraint):
    write()
    others = {"client": cast.bo, "clinician": cast.theo, "room": cast.hall}
    del others[same]
    with pytest.raises(IntegrityError, match=wall(constraint)):
        write(TEN + timedelta(minutes=55), **others)
    assert Appointment.objects.count() == 1
    assert write(TEN + timedelta(minutes=60), **others)


def test_another_clinician_room_and_client_may_have_the_same_time(cast, write):
    write()
    assert write(client=cast.bo, clinician=cast.theo, room=cast.hall)


def test_a_claim_is_refused_by_raw_sql_as_well(write):
    visit = write()
    claim = visit.claims.order_by("cell").last()
    sql = "INSERT INTO booking_claim (appointment_id, resource, resource_id, cell) VALUES (%s, %s, %s, %s)"
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, [visit.pk, claim.resource, claim.resource_id, claim.cell])
    with connection.cursor() as cursor:
        cursor.execute(sql, [visit.pk, claim.resource, claim.resource_id, claim.cell + 1])
    assert Claim.objects.filter(cell=claim.cell + 1).count() == 1


@pytest.mark.parametrize(
    "change",
    [
        {"ends": F("starts")}, {"ends": F("starts") - timedelta(minutes=5)}, {"clinician": None}, {"room": None},
        {"ends": None}, {"busy_until": F("starts")}, {"status": "perhaps"},
    ],
    ids=str,
)
def test_a_visit_without_length_resource_or_known_status_is_refused(write, change):
    visit = write()
    with pytest.raises(IntegrityError), transaction.atomic():
        Appointment.objects.filter(pk=visit.pk).update(**change)
    shorter = TEN + timedelta(minutes=45)
    assert Appointment.objects.filter(pk=visit.pk).update(ends=shorter, busy_until=shorter) == 1


def test_a_number_from_another_system_stands_once_at_a_site(cast, write):
    visit = write()
    Appointment.objects.filter(pk=visit.pk).update(external_ref="A-1")
    other = write(TEN + timedelta(hours=2), client=cast.bo)
    with pytest.raises(IntegrityError), transaction.atomic():
        Appointment.objects.filter(pk=other.pk).update(external_ref="A-1")
    assert Appointment.objects.filter(pk=other.pk).update(external_ref="A-2") == 1
