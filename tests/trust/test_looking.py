"""Whoever of the staff is shown a client's record leaves a row; clients and refused visitors leave none."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.db import transaction
from django.urls import reverse

from clinic.people.models import AuditEvent
from tests.access.roles import user_of
from tests.access.test_matrix import ROWS

pytestmark = pytest.mark.django_db
# these take an id, but of nothing that is kept about a client: there is no record to look at
BARE = {
    "library:exercise", "api:exercise", "people:link", "booking:feed", "prescribing:template", "prescribing:template-edit",
    "api:one-template",
}


def looks(client):
    return list(AuditEvent.objects.filter(client=client, verb="look").values_list("by__email", "record"))


def test_a_look_at_a_client_is_noted_with_who_and_where(cast, browse):
    browse(cast.mina.user).get(reverse("people:client", args=[cast.ada.public_id]))
    assert looks(cast.ada) == [("mina@harbour.example", "page:people:client")]


def test_the_same_look_again_is_noted_once(cast, browse):
    browser = browse(cast.desk.user)
    for _ in range(3):
        browser.get(reverse("people:client", args=[cast.ada.public_id]))
    assert len(looks(cast.ada)) == 1


def test_whoever_may_not_see_the_record_leaves_no_look(cast, browse):
    assert browse(cast.theo.user).get(reverse("people:client", args=[cast.ada.public_id])).status_code == 404
    assert looks(cast.ada) == []


def test_a_client_reading_their_own_record_is_not_watched(cast, browse):
    browse(cast.ada.user).get(reverse("portal:weeks"))
    assert looks(cast.ada) == []


ONE_CLIENT = [row for row in ROWS if row.method == "GET" and row.expect[4] == 200]


@pytest.mark.parametrize("row", ONE_CLIENT, ids=lambda row: row.route)
def test_every_page_of_one_client_leaves_a_look(row, cast, browse):
    """The generated sweep: a route that takes an id of Ada's and answers Mina must go through a door that notes it."""
    with transaction.atomic():
        ids = row.make(cast)
        if not ids or row.route in BARE:
            return
        cache.clear()
        before = len(looks(cast.ada))
        answer = browse(user_of(cast, "mina")).get(reverse(row.route, kwargs=ids), row.query(cast) if row.query else {})
        assert answer.status_code == 200
        assert len(looks(cast.ada)) == before + 1, row.route
        transaction.set_rollback(True)
