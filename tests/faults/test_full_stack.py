"""What docker-compose.yml starts, as real processes, and everything that can be killed or can lie, one after another.

After each fault the ledger must add up: every message went out once, was left out with a reason, or is visibly in doubt;
and nobody who books or logs was turned away without need.
"""

from __future__ import annotations

import json
import os
import threading
import time
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone

from clinic.booking.models import Appointment
from clinic.people.queries import system_actor
from clinic.reminders import queries
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message, Suppression
from clinic.reminders.rules.signed import signature
from programs.following.models import SessionLog
from tests.faults.stack import SIGCONT, SIGKILL, SIGNING_KEY, SIGSTOP, running_stack
from tests.reminders.processes import kill

SLOW = 6.0   # seconds a request may take on a busy machine while a part is away; a hang would be 20


@pytest.fixture(scope="module")
def up(tmp_path_factory, django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), running_stack(tmp_path_factory.mktemp("faults")) as stack:
        yield stack


@pytest.fixture
def stack(up):
    """The stack, green before and after; what the mail server does to whom is forgotten in between."""
    yield up
    up.post.manners.clear()
    up.until_green()
    up.settle()


def statuses(answers):
    return [answer.status for answer in answers]


def note(stack, kind="mail_check"):
    """A message to the desk that nobody rings for: it goes at a tick."""
    now = timezone.now()
    return queue_message(
        by=system_actor(), kind=kind, to=stack.practice.desk, about="staff:1", dedup_key=f"{kind}:{time.monotonic_ns()}",
        due=now, not_after=now + timedelta(hours=1), now=now, values={"time": "09:00 UTC", "counts": "1 thing", "url": "/"},
    )


def digest(stack):
    """One of the kind that must never go twice."""
    return note(stack, "daily_digest")


def after(message):
    message.refresh_from_db()
    return message.state, message.reason, message.resends


def people_go_on(stack):
    """A booking and a log, both taken at the first try and soon."""
    for answers in (stack.practice.booked(), stack.practice.logged()):
        assert statuses(answers) in ([201], [200])
        assert answers[0].seconds < SLOW


# --- processes that die ----------------------------------------------------------------------------------------------
def test_a_worker_child_is_killed_while_the_mail_server_has_the_letter(stack):
    practice, post = stack.practice, stack.post
    goes_again, once = practice.clients[1], practice.desk.user.email
    post.manners |= {goes_again.email: "hang", once: "hang"}
    practice.booked(goes_again)
    held = digest(stack)
    stack.until(lambda: len([to for to, _ in post.letters if to in (goes_again.email, once)]) == 2, "both letters")
    for pid in stack.children("worker"):
        os.kill(pid, SIGKILL)
    post.manners.clear()
    booked = stack.of(goes_again)
    stack.until(lambda: after(booked)[0] == "claimed", "a claim nobody answers for")
    stack.hurry_leases()
    stack.settle()
    assert after(booked) == ("sent", "", 1)   # two copies under one Message-ID: its kind says rather twice than never
    assert after(held) == ("unknown", "outcome_unknown", 0)   # rather never than twice: it waits for a person
    assert stack.running["worker"][0].poll() is None   # the worker itself went on with new children


def test_the_worker_is_killed_before_the_mail_server_has_the_letter(stack):
    practice, post = stack.practice, stack.post
    client = practice.clients[2]
    post.manners[client.email] = "hang_early"
    practice.booked(client)
    stack.until(lambda: post.asked[client.email], "the address at the server")
    stack.running["worker"][0].send_signal(SIGKILL)   # the main process alone; its children lose their parent
    stack.running["worker"][0].wait(timeout=10)
    post.manners.clear()
    booked = stack.of(client)
    assert after(booked)[0] == "claimed"
    stack.hurry_leases()
    stack.settle()
    assert after(booked) == ("sent", "", 1)
    assert [to for to, _ in post.letters].count(client.email) == 1


def test_beat_is_killed_and_rings_still_deliver_while_health_says_so_in_time(stack):
    stack.kill("beat")
    stack.practice.booked(stack.practice.clients[3])
    message = stack.of(stack.practice.clients[3])
    stack.until(lambda: after(message)[0] == "sent", "a message that was rung for")
    later = timezone.now() + queries.alarm_after() + timedelta(seconds=1)
    assert queries.health(later).worker == "late"   # rings are no heartbeat
    assert queries.alarm_after() <= timedelta(minutes=5)
    stack.restart("beat")


def test_a_worker_that_is_alive_but_deaf_raises_the_alarm(stack):
    stack.stop_group("worker", SIGSTOP)
    people_go_on(stack)
    waiting = Message.objects.order_by("-pk")[0]
    time.sleep(1)
    assert stack.running["worker"][0].poll() is None   # whoever watches processes sees nothing
    found = queries.health(timezone.now() + queries.alarm_after() + timedelta(seconds=1))
    assert (found.worker, found.ready, found.redis) == ("late", False, "ok")
    assert after(waiting)[0] == "pending"
    stack.stop_group("worker", SIGCONT)
    stack.until(lambda: after(waiting)[0] == "sent", "the message after all")


def in_mid_request(stack):
    """(the thread of a desk's booking that is in the middle of its transaction, its answers): the table of claims is held."""
    found = []
    thread = threading.Thread(target=lambda: found.extend(stack.practice.booked(stack.practice.clients[4])))
    cursor = connection.cursor()
    cursor.execute("BEGIN")
    cursor.execute("LOCK TABLE booking_claim IN EXCLUSIVE MODE")
    thread.start()

    def held():
        cursor.execute("SELECT count(*) FROM pg_locks WHERE relation = 'booking_claim'::regclass AND NOT granted")
        return cursor.fetchone()[0]

    stack.until(held, "a request that waits for the claims")
    return thread, found


def test_the_web_is_killed_in_mid_request_and_the_same_request_again_books_once(stack):
    before = Appointment.objects.count()
    thread, found = in_mid_request(stack)
    for pid in stack.children("web"):
        os.kill(pid, SIGKILL)
    connection.cursor().execute("ROLLBACK")
    thread.join(timeout=60)
    assert statuses(found)[0] == 0   # the line broke
    assert statuses(found)[-1] == 201
    assert Appointment.objects.count() == before + 1
    stack.kill("web")   # and the whole of it
    stack.start("web")
    stack.until_green()
    people_go_on(stack)


def test_the_database_restarts_in_mid_request(stack):
    practice, before, logs = stack.practice, Appointment.objects.count(), SessionLog.objects.count()
    thread, found = in_mid_request(stack)
    stack.database.crash()
    connection.close()
    page, ready = practice.ask("/account/login/code/"), stack.health()
    api = practice.send_booking(practice.book(), "while it is away")
    stack.database.start()
    thread.join(timeout=60)
    assert ready == (503, {"ready": False, "database": "down"})
    assert (api.status, api.body["title"]) == (503, "try_again")
    assert "Retry-After" in api.headers
    assert page.status in {200, 503}   # a page that needs no rows may well be served
    assert set(statuses(found)[:-1]) <= {0, 503}
    assert statuses(found)[-1] == 201
    assert Appointment.objects.count() == before + 1
    # the pool heals: not one of the next ones is turned away
    assert [statuses(practice.logged()) for _ in range(12)] == [[200]] * 12
    assert SessionLog.objects.count() == logs + 12


# --- Redis -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("break_it", "mend_it", "said"),
    [
        (lambda redis: redis.line().flushall(), lambda redis: None, "ok"),
        (lambda redis: redis.kill(), lambda redis: redis.start(), "down"),
        (lambda redis: redis.silence(), lambda redis: redis.wake(), "down"),
        (lambda redis: redis.fill(), lambda redis: redis.empty(), "full"),
    ],
    ids=["emptied", "stopped", "silent", "full"],
)
def test_redis_fails_and_people_go_on(stack, break_it, mend_it, said):
    break_it(stack.redis)
    try:
        people_go_on(stack)
        status, parts = stack.health()
        assert (status, parts["redis"], parts["database"]) == (200 if said == "ok" else 503, said, "ok")
        for _ in range(2):
            people_go_on(stack)
        if said == "full":
            assert not stack.healthcheck("worker")
    finally:
        mend_it(stack.redis)
    waiting = note(stack)   # nobody rings for it: beat and worker have found each other again
    stack.until(lambda: after(waiting)[0] == "sent", "a message after Redis came back")


# --- mail ------------------------------------------------------------------------------------------------------------
def test_a_mail_server_says_not_now_and_no(stack):
    practice, post = stack.practice, stack.post
    soon, never = practice.clients[1], practice.clients[5]
    post.manners |= {soon.email: "451", never.email: "550"}
    practice.booked(soon)
    practice.booked(never)
    later, refused = stack.of(soon), stack.of(never)
    stack.until(lambda: after(refused)[0] == "failed" and after(later) and later.due > timezone.now(), "both answers")
    assert after(refused) == ("failed", "no_such_address", 0)
    assert after(later)[0] == "pending"
    assert Suppression.objects.filter(address=never.email, lifted_at=None).exists()
    practice.booked(never)
    stack.until(lambda: after(stack.of(never))[0] == "skipped", "the next one to be left out")
    assert after(stack.of(never))[1] == "suppressed"
    post.manners.clear()
    stack.settle()
    assert after(later) == ("sent", "", 0)


@pytest.mark.parametrize("manner", ["hang", "drop"])
def test_a_mail_server_takes_the_letter_and_never_says_so(stack, manner):
    practice, post = stack.practice, stack.post
    client = practice.clients[2]
    post.manners |= {client.email: manner, practice.desk.user.email: manner}
    practice.booked(client)
    held, booked = digest(stack), stack.of(client)
    stack.until(lambda: after(held)[0] == "unknown" and after(booked)[0] == "unknown", "both in doubt", seconds=90)
    assert after(held) == ("unknown", "outcome_unknown", 0)
    assert after(booked) == ("unknown", "outcome_unknown", 1)   # again once, then a person decides
    stack.check()


def test_the_mail_server_goes_away_and_comes_back(stack):
    stack.post.shut()
    people_go_on(stack)
    waiting = Message.objects.filter(kind="visit_booked").order_by("-pk")[0]
    stack.until(lambda: stack.health()[1]["mail"] == "down", "health that names the mail")
    assert after(waiting) == ("pending", "", 0)
    assert Message.objects.get(pk=waiting.pk).attempts == 0   # no message's fault
    stack.post.open()
    stack.until(lambda: after(waiting)[0] == "sent", "the message")
    note(stack)   # one more use of the mended way: whoever tried the broken one last may have marked it last
    stack.until(lambda: stack.health()[1]["mail"] == "ok", "health without the mark")


# --- the gateway for text messages -----------------------------------------------------------------------------------
def report(stack, message_id, number="r1", key=SIGNING_KEY, status="delivered"):
    told = {"id": message_id, "to": stack.practice.texter.phone, "status": status, "error": ""}
    raw, at = json.dumps(told).encode(), int(time.time())
    headers = {"webhook-id": number, "webhook-timestamp": str(at), "webhook-signature": signature(key, number, at, raw)}
    return stack.practice.ask("/reports/sms", told, **headers).status


def text(stack, state):
    """A booking of the client who gets text messages; the message, once it has come to `state`."""
    stack.practice.booked(stack.practice.texter)
    message = stack.of(stack.practice.texter)
    assert message.channel == "sms"
    stack.until(lambda: after(message)[0] == state, f"a text that is {state}")
    return message


def test_a_gateway_lies(stack):
    gateway = stack.gateway
    gateway.script[:] = [(200, {"error": "no credit"})]
    refused = text(stack, "failed")
    assert after(refused) == ("failed", "refused", 0)
    stack.not_taken[str(refused.public_id)] += 1
    gateway.script[:] = [(200, b"<html>fine</html>"), (200, {"id": "somebody else's"})]
    doubted = text(stack, "unknown")   # an answer that makes no sense, twice: in doubt
    assert after(doubted) == ("unknown", "outcome_unknown", 1)
    assert report(stack, str(doubted.public_id), "forged", key="whsec_" + "Zm9v" * 8) == 401
    assert after(doubted)[0] == "unknown"
    assert [report(stack, str(doubted.public_id), "late") for _ in range(3)] == [204] * 3   # the same report three times
    assert after(doubted)[:2] == ("sent", "")
    assert doubted.reports.count() == 1


def test_a_report_comes_before_the_answer_and_before_the_record(stack):
    told = []
    stack.gateway.during = lambda text: told.append(report(stack, text["id"], f"early-{text['id']}"))
    try:
        message = text(stack, "sent")
        stack.until(lambda: told == [204], "an early report")
    finally:
        stack.gateway.during = lambda text: None
    assert after(message) == ("sent", "", 0)
    assert message.reports.count() == 1


# --- two of each -----------------------------------------------------------------------------------------------------
def test_two_beats_and_two_workers_send_each_message_once(stack):
    stack.start("beat")
    stack.start("worker")
    try:
        with transaction.atomic():
            rows = Message.objects.filter(pk__in=[note(stack).pk for _ in range(60)])
        stack.until(lambda: not rows.exclude(state="sent").exists(), "all of them")
        assert rows.filter(attempts=1, resends=0).count() == 60
    finally:
        for name in ("beat", "worker"):
            kill(stack.running[name].pop())


def test_at_the_end_nobody_was_turned_away_without_need_and_the_logs_name_nobody(up):
    up.settle()
    assert up.healthcheck("worker")
    refused = [answer for answer in up.practice.answers if answer.status >= 400 and answer.status not in {401, 503}]
    assert refused == []
    log = up.log.read_text("utf-8", errors="replace")
    for word in ("Client1", "Texter", "Quill", "client.example", "+4477009"):
        assert word not in log
