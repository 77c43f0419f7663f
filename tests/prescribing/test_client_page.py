"""The home program on a client's page: where a clinician begins one."""

from __future__ import annotations

import pytest


def page_of(browse, user, client) -> str:
    return browse(user).get(f"/clients/{client.public_id}/").content.decode()


@pytest.mark.django_db
def test_a_clinician_can_begin_a_program_for_an_episode_without_one(cast, browse):
    text = page_of(browse, cast.mina.user, cast.ada)
    assert f"/programs/new/?episode={cast.ada_hip.public_id}" in text
    assert "Write a program for: Stiff left hip after sitting" in text


@pytest.mark.django_db
def test_the_lead_reads_but_begins_none_and_the_desk_sees_nothing_of_it(cast, browse):
    lead, desk = page_of(browse, cast.lead.user, cast.ada), page_of(browse, cast.desk.user, cast.ada)
    assert "Home program" in lead
    assert "/programs/new/" not in lead
    assert "Home program" not in desk
