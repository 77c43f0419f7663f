"""What the tests of visits start from."""

from __future__ import annotations

from datetime import date

import pytest

from clinic.visits.actions.load_measures import load_measures
from clinic.visits.models import Reassessment


@pytest.fixture
def look(cast, now):
    """look(due, episode=Ada's, earliest=…, latest=…, reason=…) -> an open reassessment planned by Mina."""

    def planned(due: date, episode=None, **values):
        return Reassessment.objects.create(
            episode=episode or cast.ada_hip, planned_by=cast.mina.user, planned_at=now, due=due,
            **{"reason": "kick_off_end", "earliest": due, "latest": due, **values},
        )

    return planned


@pytest.fixture
def measures(db):
    load_measures()
