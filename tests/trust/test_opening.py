"""A record beyond one's caseload: a written reason, a limited time, and the lead knows."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clinic.people.models import AuditEvent
from clinic.people.queries import client_for
from clinic.people.refusal import NotThere, Refusal
from clinic.reminders.models import Message
from clinic.trust.actions.close_record import close_record
from clinic.trust.actions.open_record import open_record
from clinic.trust.models import Opening

pytestmark = pytest.mark.django_db
BORN = date(1984, 5, 17)
REASON = "Mina is ill and Ada rang about her hip."


def opened(cast, **values):
    asked = {"name": "ada  QUILL", "born": BORN, "reason": REASON, "now": timezone.now(), **values}
    return open_record(by=cast.theo.user, **asked)


def test_the_record_opens_for_hours_and_the_lead_is_told(cast, browse):
    with pytest.raises(NotThere):
        client_for(cast.theo.user, cast.ada.public_id)
    opening = opened(cast)
    assert client_for(cast.theo.user, cast.ada.public_id) == cast.ada
    assert opening.ends - opening.begins == timedelta(hours=4)
    assert [(row.kind, row.staff) for row in Message.objects.filter(kind="record_opened")] == [("record_opened", cast.lead)]
    assert AuditEvent.objects.filter(verb="open_record", client=cast.ada, by=cast.theo.user).count() == 1
    page = browse(cast.lead.user).get(reverse("trust:openings")).content.decode()
    assert REASON in page
    assert "Theo" in page


def test_when_the_time_is_over_the_door_is_shut(cast):
    opened(cast, now=timezone.now() - timedelta(hours=4, seconds=1))
    with pytest.raises(NotThere):
        client_for(cast.theo.user, cast.ada.public_id)


def test_it_can_be_closed_before_its_time_once(cast):
    opening = opened(cast)
    close_record(by=cast.lead.user, opening=opening, now=timezone.now())
    with pytest.raises(NotThere):
        client_for(cast.theo.user, cast.ada.public_id)
    with pytest.raises(Refusal, match="over already"):
        close_record(by=cast.lead.user, opening=opening, now=timezone.now())


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        ({"reason": "urgent"}, "reason_short"),
        ({"reason": "x" * 301}, "reason_long"),
        ({"name": "Ada"}, "no_such_client"),
        ({"born": date(1984, 5, 18)}, "no_such_client"),
        ({"name": "Bo Marsh"}, "already_yours"),
    ],
)
def test_a_refusal_opens_nothing_and_tells_nobody(cast, wrong, code):
    with pytest.raises(Refusal) as refused:
        opened(cast, **wrong)
    assert refused.value.code == code
    assert Opening.objects.count() == Message.objects.count() == 0


def test_nothing_typed_is_lost_when_the_page_refuses(cast, browse):
    asked = {"name": "Ada Quill", "born": "1984-05-17", "reason": "brief"}
    answer = browse(cast.theo.user).post(reverse("trust:open"), asked)
    assert answer.status_code == 400
    for kept in ('value="Ada Quill"', 'value="1984-05-17"', "brief</textarea>", "at least 15 letters"):
        assert kept in answer.content.decode()


def test_lists_are_paged_with_a_fixed_number_of_queries(cast, browse, django_assert_num_queries):
    browser = browse(cast.lead.user)
    browser.get(reverse("trust:openings"))   # the first page of a session notes when it began
    for rows in (1, 30):
        for _ in range(rows):
            opened(cast, now=timezone.now() - timedelta(days=1))
        with django_assert_num_queries(5):
            page = browser.get(reverse("trust:openings")).content.decode()
    assert "Page 1 of 2" in page
    with django_assert_num_queries(7):
        assert "Page 1 of 2" in browser.get(reverse("trust:client_trail", args=[cast.ada.public_id])).content.decode()


def test_the_lead_checks_the_trail_on_a_page(cast, browse):
    opened(cast)
    page = browse(cast.lead.user).post(reverse("trust:trail")).content.decode()
    assert "The trail is whole" in page
