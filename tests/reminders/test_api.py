from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from clinic.reminders.models import Message

LIST = "/api/v1/messages"


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_takes_the_same_number_of_queries_for_one_and_three(queue, browse, cast, count, django_assert_num_queries):
    for number in range(count):
        queue(to=cast.mina if number == 1 else cast.ada)
    browser = browse(cast.desk.user)
    browser.get(LIST)   # the first request of a session writes the session
    # session, user, messages
    with django_assert_num_queries(3):
        rows = browser.get(LIST).json()["results"]
    assert len(rows) == count
    assert rows[-1]["client"] == str(cast.ada.public_id)
    assert rows[-1]["staff"] is None


def test_it_tells_what_became_of_a_message_and_never_its_words(queue, browse, cast):
    queue(values={"day": "Tuesday", "time": "10:15"})
    Message.objects.update(state="failed", reason="no_such_address")
    answer = browse(cast.lead.user).get(LIST)
    assert (answer.json()["results"][0]["state"], answer.json()["results"][0]["reason"]) == ("failed", "no_such_address")
    assert "10:15" not in answer.content.decode()
    assert "Ada" not in answer.content.decode()
    assert browse(cast.lead.user).get(LIST, {"show": "attention"}).json()["results"] == answer.json()["results"]
    Message.objects.update(state="sent")
    assert browse(cast.lead.user).get(LIST, {"show": "attention"}).json()["results"] == []


def test_a_failed_message_is_sent_again_once(queue, browse, cast):
    message = queue()
    address = f"{LIST}/{message.public_id}/retry"
    Message.objects.update(state="failed", not_after=timezone.now() + timedelta(hours=1))
    browser = browse(cast.desk.user)
    answer = browser.post(address)
    assert (answer.status_code, answer.json()["state"]) == (200, "pending")
    answer = browser.post(address)
    assert (answer.status_code, answer.json()["title"]) == (409, "not_retryable")
    assert browser.post(f"{LIST}/{uuid4()}/retry").status_code == 404
