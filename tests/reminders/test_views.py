from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import OperationalError
from django.urls import reverse
from django.utils import timezone

from clinic.reminders.actions.beat import beat
from clinic.reminders.models import InboxMessage, Message
from tests.conftest import NOW

LIST = "/messages/"


@pytest.mark.parametrize("count", [1, 3])
def test_the_list_takes_the_same_number_of_queries_for_one_and_three(queue, browse, cast, count, django_assert_num_queries):
    for number in range(count):
        queue(to=cast.mina if number == 1 else cast.ada)
    browser = browse(cast.desk.user)
    browser.get(LIST)   # the first page of a session writes the session
    # session, user, count, messages, zone of the site, the hold, how many addresses do not work
    with django_assert_num_queries(7):
        page = browser.get(LIST).content.decode()
    assert page.count("<th scope=\"row\">Test note</th>") == count


def test_the_list_says_states_and_reasons_in_words_and_nothing_of_the_contents(queue, browse, cast):
    queue(values={"day": "Tuesday", "time": "10:15"})
    for state, reason, words in [
        ("skipped", "no_consent", "No agreement to messages."),
        ("failed", "no_such_address", "There is no such address. Ask for a new one."),
        ("unknown", "outcome_unknown", "It may have arrived. Ask before you send it again."),
        ("skipped", "program_paused", "No longer wanted: program paused."),
        ("sent", "", "Sent a second time after a break."),
    ]:
        Message.objects.update(state=state, reason=reason, resends=state == "sent")
        page = browse(cast.desk.user).get(LIST).content.decode()
        assert words in page
        assert "10:15" not in page
    assert "Ada Quill" in page
    assert "Mon 2 Mar, 09:00" in page
    assert "Times are in Europe/London." in page


def test_the_list_is_paged_and_can_show_only_what_needs_a_person(queue, browse, cast):
    for _ in range(27):
        queue()
    Message.objects.filter(dedup_key="note:5").update(state="failed", reason="refused")
    browser = browse(cast.lead.user)
    assert browser.get(LIST).content.decode().count("Test note</th>") == 25
    assert browser.get(LIST, {"page": 2}).content.decode().count("Test note</th>") == 2
    assert browser.get(LIST, {"show": "attention"}).content.decode().count("Test note</th>") == 1
    Message.objects.update(state="sent")
    assert "No message needs a person." in browser.get(LIST, {"show": "attention"}).content.decode()


def test_send_again_is_offered_and_done_for_a_failed_message_that_is_still_useful(queue, browse, cast):
    message = queue()
    Message.objects.update(state="failed", not_after=timezone.now() + timedelta(hours=1))
    browser = browse(cast.desk.user)
    assert "Send again" in browser.get(LIST).content.decode()
    page = browser.post(reverse("reminders:retry", args=[message.public_id]), follow=True).content.decode()
    assert "The message waits to be sent again." in page
    assert "Send again" not in page
    page = browser.post(reverse("reminders:retry", args=[message.public_id]), follow=True).content.decode()
    assert "Only a failed message can be sent again." in page
    assert browser.post(reverse("reminders:retry", args=[uuid4()])).status_code == 404


def test_a_test_message_is_asked_for_by_a_button(browse, cast):
    browser = browse(cast.desk.user)
    page = browser.post("/messages/check/", follow=True).content.decode()
    assert "A test message to you waits to be sent." in page
    assert Message.objects.get().staff == cast.desk


def test_a_message_of_another_practice_is_not_there(queue, browse, cast):
    from clinic.people.models import Site

    message = queue()
    Message.objects.update(state="failed")
    other = Site.objects.create(
        name="Elsewhere", zone="UTC", phone="+441632960111", emergency_number="999", region_code="GB"
    )
    cast.desk.sites.set([other])
    browser = browse(cast.desk.user)
    assert "No messages yet." in browser.get(LIST).content.decode()
    assert browser.post(reverse("reminders:retry", args=[message.public_id])).status_code == 404


def _mail(**values):
    return InboxMessage.objects.create(
        **{"to": "ada@client.example", "subject": "Hello", "body": "Body", "at": NOW, **values}
    )


@pytest.mark.parametrize("count", [1, 3])
def test_the_demos_inbox_is_open_to_a_visitor_and_has_links(browse, db, settings, count, django_assert_num_queries):
    settings.DEMO = True
    for number in range(count):
        _mail(body=f"Sign in: http://127.0.0.1:8000/sign-in/{number}/\n\n<img src=x onerror=alert(1)>")
    with django_assert_num_queries(2):
        page = browse().get("/inbox/").content.decode()
    assert page.count('<a href="http://127.0.0.1:8000/sign-in/') == count
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page


def test_the_inbox_is_paged_and_says_when_it_is_empty(browse, db, settings):
    settings.DEMO = True
    assert "No mail yet." in browse().get("/inbox/").content.decode()
    for number in range(11):
        _mail(subject=f"Mail {number}", at=NOW + timedelta(minutes=number))
    page = browse().get("/inbox/").content.decode()
    assert page.count("<article") == 10
    assert page.index("Mail 10") < page.index("Mail 9")
    assert browse().get("/inbox/", {"page": 2}).content.decode().count("<article") == 1


def test_outside_the_demo_there_is_no_inbox(browse, cast):
    assert browse().get("/inbox/").status_code == 404
    assert browse(cast.lead.user).get("/inbox/").status_code == 404


def test_live_needs_no_database(browse):
    answer = browse().get("/health/live")
    assert (answer.status_code, answer.json()) == (200, {"live": True})
    assert browse().post("/health/live").status_code == 405


def test_ready_is_red_without_a_heartbeat_and_green_with_a_fresh_one(browse, db, settings, django_assert_num_queries):
    answer = browse().get("/health/ready")
    assert (answer.status_code, answer.json()["worker"]) == (503, "never")
    beat("deliver", timezone.now() - timedelta(minutes=20))
    answer = browse().get("/health/ready")
    assert (answer.status_code, answer.json()["worker"]) == (503, "late")
    beat("deliver", timezone.now())
    with django_assert_num_queries(1):
        answer = browse().get("/health/ready")
    assert answer.status_code == 200
    assert answer.json() == {
        "ready": True, "database": "ok", "worker": "ok", "worker_age_seconds": answer.json()["worker_age_seconds"],
        "mail": "ok", "redis": "ok" if settings.REDIS_URL else "none",
    }
    assert answer["Cache-Control"] == "no-store"


def test_ready_is_red_when_the_database_does_not_answer(browse, monkeypatch):
    def gone(now):
        raise OperationalError("password of host db is secret")

    monkeypatch.setattr("clinic.reminders.views.queries.health", gone)
    answer = browse().get("/health/ready")
    assert (answer.status_code, answer.json()) == (503, {"ready": False, "database": "down"})
