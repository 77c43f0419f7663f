"""What several modules of booking set up: a group of three places that Mina or Theo leads."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.open_group import open_group
from clinic.booking.models import VisitType
from clinic.people.models import Client
from tests.conftest import NOW

TEN = datetime(2026, 3, 3, 10, tzinfo=UTC)
PLACES = 3


@pytest.fixture
def balance(cast):
    return VisitType.objects.create(
        code="balance", name="Balance group", minutes=45, preparation_minutes=5, cleanup_minutes=10, places=PLACES,
        room_features=["open_floor"], clients_may_book=True,
    )


@pytest.fixture
def plan(cast, balance, now):
    def planned(start=TEN, clinician=None, **more):
        return open_group(
            by=cast.desk.user, site=cast.site, visit_type=balance, clinician=clinician or cast.mina, start=start, now=now,
            **more,
        )

    return planned


@pytest.fixture
def join(cast, balance, now):
    def joined(client, start=TEN, clinician=None, **more):
        return book_visit(
            by=cast.desk.user, client=client, visit_type=balance, clinician=clinician or cast.mina, start=start, now=now,
            **more,
        )

    return joined


@pytest.fixture
def people(cast):
    """As many clients as you like."""

    def made(count):
        return [
            Client.objects.create(site=cast.site, given_name=f"Guest{number}", family_name="Lee", zone="UTC", registered=NOW)
            for number in range(count)
        ]

    return made
