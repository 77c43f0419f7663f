"""What holds for a client today, and since when: noted by a clinician, never overwritten."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from clinic.people.actions.set_conditions import set_conditions
from clinic.people.models import AuditEvent, Condition
from clinic.people.queries import open_conditions
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import ConditionCode

pytestmark = pytest.mark.django_db
ONE, OTHER = ConditionCode.values[:2]


def spans(client):
    return [(row.code, row.since, row.until) for row in Condition.objects.filter(client=client).order_by("pk")]


def test_one_begins_today_and_another_ends_with_yesterday(cast, now):
    week = now + timedelta(days=7)
    set_conditions(by=cast.mina.user, client=cast.ada, codes=[ONE], now=now)
    assert set_conditions(by=cast.mina.user, client=cast.ada, codes=[OTHER], now=week) == ({OTHER}, {ONE})
    assert spans(cast.ada) == [(ONE, now.date(), week.date() - timedelta(days=1)), (OTHER, week.date(), None)]
    assert open_conditions(cast.ada, now.date()) == [ONE]
    assert open_conditions(cast.ada, week.date()) == [OTHER]
    assert AuditEvent.objects.filter(verb="set_conditions", client=cast.ada).count() == 2


def test_a_slip_of_the_same_day_leaves_nothing(cast, now):
    set_conditions(by=cast.mina.user, client=cast.ada, codes=[ONE], now=now)
    set_conditions(by=cast.mina.user, client=cast.ada, codes=[], now=now)
    assert spans(cast.ada) == []


def test_saying_the_same_again_writes_nothing(cast, now):
    for _ in range(2):
        set_conditions(by=cast.mina.user, client=cast.ada, codes=[ONE], now=now)
    assert len(spans(cast.ada)) == AuditEvent.objects.filter(verb="set_conditions").count() == 1


def test_an_unknown_code_or_the_desk_changes_nothing(cast, now):
    with pytest.raises(Refusal, match="not one of the conditions"):
        set_conditions(by=cast.mina.user, client=cast.ada, codes=[ONE, "bad_luck"], now=now)
    with pytest.raises(NotThere):
        set_conditions(by=cast.desk.user, client=cast.ada, codes=[ONE], now=now)
    assert spans(cast.ada) == []


def test_the_page_ticks_what_holds_and_notes_what_changes(cast, browse, now):
    browser = browse(cast.mina.user)
    page = reverse("people:client", args=[cast.ada.public_id])
    browser.post(reverse("people:conditions", args=[cast.ada.public_id]), {"conditions": [ONE]})
    shown = browser.get(page).content.decode()
    assert f'value="{ONE}" checked' in shown
    assert f'value="{OTHER}" checked' not in shown
    assert ConditionCode(ONE).label not in browse(cast.desk.user).get(page).content.decode()
