"""Programs of the cast: Ada's hip program as in tests/following, and as many more as a list needs."""

from __future__ import annotations

from datetime import timedelta

import pytest

from clinic.people.models import Client, Episode
from programs.prescribing.actions.prescribe_program import prescribe_program
from tests.conftest import screen
from tests.following.conftest import START, hip_plan, program, report, shelf

__all__ = ["program", "report", "shelf"]


@pytest.fixture
def give(cast, shelf, now):
    """give("Cy", …) -> a program of a new client of Mina's."""

    def given(name: str, *, lead=None, family: str = "Reed"):
        lead = lead or cast.mina
        client = Client.objects.create(
            site=cast.site, given_name=name, family_name=family, zone=cast.site.zone, registered=now
        )
        episode = Episode.objects.create(
            client=client, lead=lead, region="knee", side="left", complaint="Sore knee", opened=START
        )
        screen(client, lead.user)
        return prescribe_program(by=lead.user, episode=episode, plan=hip_plan(), title="Knee", starts=START, now=now)

    return given


@pytest.fixture
def later(now):
    """later(days) -> nine o'clock that many days after the first."""
    return lambda days: now + timedelta(days=days)
