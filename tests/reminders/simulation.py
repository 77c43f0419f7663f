"""Weeks of a small practice told from a script, on the real tables, with the clock and the ways out in the script's hands.

What really left is kept in a ledger of its own, with what was true at that moment. `Weeks.judge_all` holds outbox and ledger
against each other; it knows what the transport did and asks the outbox's rules nothing.

`python3 -m pytest tests/reminders/test_simulation.py` tells a few; INTERVALE_SIMULATED_SCRIPTS tells as many as one likes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from django.db.models import Max

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.move_visit import move_visit
from clinic.booking.actions.plan_visit_reminders import plan_visit_reminders
from clinic.booking.models import Appointment
from clinic.people.actions.set_consent import set_consent
from clinic.people.models import Client
from clinic.people.refusal import Refusal
from clinic.reminders.actions.deliver_due import RUN_SECONDS, deliver_due
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.actions.retry_message import retry_message
from clinic.reminders.batch import Clock
from clinic.reminders.channels import CarrierDown, RefusedForGood, TryLater
from clinic.reminders.group import Group
from clinic.reminders.models import Message
from tests.reminders.minute_clock import _within

TICK = timedelta(minutes=20)
HOUR = timedelta(hours=1)


class Killed(BaseException):
    """The worker is gone: nothing of it catches this."""


@dataclass
class Sent:
    at: datetime
    ref: str


@dataclass
class Weeks:
    """One practice. `answers` are taken one by one by whatever leaves; when there are none left everything is taken."""

    cast: object
    now: datetime
    answers: list[str]
    ledger: list[Sent] = field(default_factory=list)
    doubts: Counter = field(default_factory=Counter)      # by message: times that nobody can say whether it left
    again: Counter = field(default_factory=Counter)       # times a person sent it again
    waits: dict = field(default_factory=lambda: defaultdict(list))
    asked: datetime | None = None
    down: bool = False
    nested: int = 0
    number: int = 0
    kill_at: str = ""
    wrong: list[str] = field(default_factory=list)

    # --- what happens in the practice ---

    def book(self, who: str, day: int, hour: int) -> None:
        client, clinician = getattr(self.cast, who), self.cast.mina if hour % 2 else self.cast.theo
        client.refresh_from_db()
        self._try(
            book_visit, client=client, visit_type=self.cast.follow_up, clinician=clinician, start=self._at(day, hour)
        )

    def move(self, which: int, day: int, hour: int) -> None:
        if visit := self._visit(which):
            self._try(move_visit, appointment=visit, start=self._at(day, hour))

    def cancel(self, which: int) -> None:
        if visit := self._visit(which):
            self._try(cancel_visit, appointment=visit, reason="client")

    def note(self, who: str, kind: str, hours: int) -> None:
        """Something else to tell, useful for so many hours."""
        self.number += 1
        client = getattr(self.cast, who)
        client.refresh_from_db()
        queue_message(
            by=self.cast.desk.user, kind=kind, to=client, about="test:1", dedup_key=f"{kind}:{self.number}",
            due=self.now, not_after=self.now + hours * HOUR, now=self.now, values={"day": "Tuesday", "time": "10:00"},
        )

    def burst(self, kind: str, count: int) -> None:
        """Many things at once."""
        for number in range(count):
            self.note(("ada", "bo")[number % 2], kind, 5)

    def consent(self, who: str, channel: str, granted: bool) -> None:
        set_consent(by=self.cast.desk.user, client=getattr(self.cast, who), channel=channel, granted=granted, now=self.now)

    def address(self, who: str) -> None:
        self.number += 1
        Client.objects.filter(pk=getattr(self.cast, who).pk).update(email=f"new{self.number}@client.example")

    def archive(self, who: str, archived: bool) -> None:
        Client.objects.filter(pk=getattr(self.cast, who).pk).update(archived=self.now if archived else None)

    def retry(self) -> None:
        row = Message.objects.filter(state__in=("failed", "unknown"), not_after__gte=self.now).order_by("pk").first()
        if row:
            retry_message(by=self.cast.desk.user, message=row, now=self.now)
            self.again[str(row.public_id)] += 1

    def away(self, hours: int) -> None:
        """Nothing runs."""
        self.now += hours * HOUR

    def pass_hours(self, hours: int) -> None:
        """The schedule ticks."""
        ends = self.now + hours * HOUR
        while self.now < ends:
            self.now += TICK
            self.tick()

    def pass_days(self, days: int) -> None:
        """The same, looked at every four hours."""
        for _ in range(6 * days):
            self.now += 4 * HOUR
            self.tick()

    def tick(self) -> None:
        plan_visit_reminders(by=self.cast.desk.user, now=self.now)
        self.sweep("first")

    def sweep(self, worker: str) -> None:
        began, clock = self.now, Told(self)
        self.down = False
        try:
            counts = deliver_due(now=self.now, worker=worker, clock=clock)
        except Killed:
            return
        out_of_time = clock.passed() > RUN_SECONDS   # it makes room for the next tick
        if not (self.nested or self.down or counts["paused"] or out_of_time):
            left = Message.objects.filter(state="pending", due__lte=began)
            waits = {str(row.public_id) for row in left if not self.doubts[str(row.public_id)]}
            assert not waits, "something that was due was passed over though its channel worked"

    # --- the way out ---

    def take(self, letter) -> None:
        """What a carrier does with a letter, as the script says."""
        ref, answer = letter.reference, self.answers.pop(0) if self.answers else "ok"
        self.asked = self.now   # the moment that counts; what follows is the way's own time
        self.now += timedelta(milliseconds=20)
        if answer == "second" and not self.nested:   # another worker runs while this one is at it
            asked = self.asked
            self.nested += 1
            self.sweep("second")
            self.nested -= 1
            self.asked = asked
        if answer == "slow" and not self.nested:     # longer than the lease: another takes it for dead
            self._deliver(letter)
            self.now += timedelta(seconds=150)
            self.doubts[ref] += 1
            self.nested += 1
            self.sweep("second")
            self.nested -= 1
            return
        if answer == "later":
            raise TryLater
        if answer in ("no_such_address", "refused"):
            raise RefusedForGood(answer)
        if answer == "down":
            self.down = True
            raise CarrierDown("test")
        if answer == "killed before":
            self.doubts[ref] += 1
            raise Killed
        if answer == "lost":
            self.doubts[ref] += 1
            raise ConnectionResetError
        self._deliver(letter)
        if answer == "killed after":
            self.doubts[ref] += 1
            raise Killed
        if answer == "lie":
            self.doubts[ref] += 1
            self.now += timedelta(seconds=20)
            raise TimeoutError

    def _deliver(self, letter) -> None:
        row = Message.objects.select_related("client").get(public_id=letter.reference)
        try:
            self._hold_against_the_moment(row, letter.address)
        except AssertionError as wrong:   # kept for the end: the outbox would take it for trouble of the channel
            self.wrong.append(f"{row.kind} at {self.now}: {wrong}")
        self.ledger.append(Sent(self.now, letter.reference))

    def _hold_against_the_moment(self, row: Message, address: str) -> None:
        client = row.client
        assert self.asked <= row.not_after, "it came too late to be of use"
        assert client.archived is None
        assert address == (client.email if row.channel == "email" else client.phone)
        if row.kind != "urgent":
            newest = client.consents.filter(channel=row.channel).order_by("-pk").first()
            assert newest.granted, "without consent"
            wall = self.asked.astimezone(ZoneInfo(client.zone)).time()
            assert not _within(wall, client.quiet_from, client.quiet_until), f"in quiet hours: {wall}"
        if row.about.startswith("appointment:"):
            visit = Appointment.objects.get(public_id=row.about.partition(":")[2])
            cancelled = visit.status == "cancelled"
            assert cancelled == (row.kind == "visit_cancelled"), "told of a visit that is not so"
            assert cancelled or row.dedup_key.endswith(f":{visit.version}"), "told of a time that is not so"

    # --- the end ---

    def come_to_rest(self) -> None:
        """Everything works again; the schedule runs until nothing could be of use any more."""
        self.answers, self.kill_at = [], ""
        last = Message.objects.aggregate(last=Max("not_after"))["last"] or self.now
        while self.now <= last + HOUR:
            # by the quarter of an hour while something waits, by the day else
            waits = Message.objects.filter(state__in=("pending", "claimed"), due__lte=self.now + 24 * HOUR).exists()
            self.now += TICK if waits else 24 * HOUR
            self.sweep("first")
        self.now += HOUR
        self.sweep("first")

    def judge_all(self) -> None:
        assert not self.wrong
        left = Counter(each.ref for each in self.ledger)
        for row in Message.objects.all():
            ref, count = str(row.public_id), left[str(row.public_id)]
            doubts, allowed = self.doubts[ref], 1 + self.again[ref] + min(self.doubts[ref], row.resends)
            assert row.state in ("sent", "skipped", "failed", "unknown"), f"{row.kind} was left {row.state}"
            assert count <= allowed, f"{row.kind} left {count} times"
            assert row.resends <= 1 + self.again[ref]
            if row.kind == "once":
                assert count <= 1 + self.again[ref]
                assert row.resends == 0
            if row.state == "sent":
                assert count >= 1 or doubts, "said to be sent, and it never left"
                assert row.sent_at is not None
            elif row.state == "unknown":
                assert doubts, "in doubt without a cause"
            else:
                assert row.reason, "no reason given"
                assert not count or doubts or self.again[ref], f"it left, and is said to be {row.state}"
            assert not row.claimed_by
        for waits in self.waits.values():
            self._judge_waits(waits)

    def _judge_waits(self, waits: list[tuple[int, timedelta]]) -> None:
        for attempt, wait in waits:
            whole = min(timedelta(minutes=60), timedelta(minutes=2 ** (attempt - 1)))
            assert whole / 2 <= wait <= whole
        for (earlier, _), (later, _) in pairwise(waits):
            assert later > earlier or later == 1   # a person began anew

    def _try(self, action, **what) -> None:
        try:
            action(by=self.cast.desk.user, now=self.now, **what)
        except Refusal:
            return   # the hour is taken, or it is too late: the desk is told so

    def _visit(self, which: int) -> Appointment | None:
        rows = list(Appointment.objects.filter(status="booked", starts__gt=self.now).order_by("pk"))
        return rows[which % len(rows)] if rows else None

    def _at(self, day: int, hour: int) -> datetime:
        return (self.now + timedelta(days=day)).replace(hour=hour, minute=0, second=0, microsecond=0)


class Told(Clock):
    """The practice's clock, which only the script moves."""

    def __init__(self, weeks: Weeks) -> None:
        super().__init__(weeks.now)
        self.weeks, self.began = weeks, weeks.now

    def passed(self) -> float:
        return (self.weeks.now - self.began).total_seconds()

    def sleep(self, seconds: float) -> None:
        self.weeks.now += timedelta(seconds=seconds)


class Way:
    """The only way out there is."""

    def __init__(self, weeks: Weeks) -> None:
        self.weeks = weeks

    def open(self) -> None:
        """Always there."""

    def send(self, letter) -> None:
        self.weeks.take(letter)

    def close(self) -> None:
        """Nothing to close."""


def watched(weeks: Weeks, patch) -> None:
    """Put the script's way out in place, note each back-off, and let it kill a worker between claim and hand-over."""
    patch.setattr("clinic.reminders.batch.carrier_for", lambda channel: Way(weeks))
    try_later, judged = Group.try_later, Group.judged

    def noted(self, key):
        before = self.clock.now()
        try_later(self, key)
        row = Message.objects.get(pk=key)
        if row.state == "pending":
            weeks.waits[key].append((row.attempts, row.due - before))

    def claimed(self, rows, can_carry):
        if weeks.kill_at == "claimed" and rows:
            weeks.kill_at = ""
            raise Killed
        ready = judged(self, rows, can_carry)
        if weeks.kill_at == "judged" and ready:
            weeks.kill_at = ""
            raise Killed
        return ready

    patch.setattr(Group, "try_later", noted)
    patch.setattr(Group, "judged", claimed)
