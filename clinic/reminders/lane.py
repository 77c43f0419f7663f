"""One channel during one run: a group of messages at a time, as large as the channel is quick, at the pace it allows.

A message is marked as handed over just before it leaves. Within one claim they leave strictly one after another and whatever
else happens to one is written down before the next is marked, so that each mark proves that the one before has left:
whenever a worker dies, one message at most is in doubt (see `release_leases`), and what has left is written down together.
"""

from __future__ import annotations

import logging
from collections import Counter
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F

from clinic.people.queries import system_actor
from clinic.reminders import queries
from clinic.reminders.actions.release_leases import FREE, settle_unknown
from clinic.reminders.actions.reserve_moments import reserve_moments
from clinic.reminders.actions.suppress_address import suppress_address
from clinic.reminders.batch import Carriers, Clock
from clinic.reminders.channels import Carrier, CarrierDown, RefusedForGood, TryLater
from clinic.reminders.group import Group, Ready
from clinic.reminders.vocab import MessageState

log = logging.getLogger("intervale.reminders")
LARGEST_GROUP = 50
FRESH = timedelta(seconds=1)   # how old a judgement may be when its message leaves


class Lane:
    """`opens` says when its pace lets it go on; None while it may."""

    def __init__(self, channel: str, worker: str, clock: Clock, carriers: Carriers, counts: Counter[str]) -> None:
        self.channel, self.worker, self.clock, self.carriers, self.counts = channel, worker, clock, carriers, counts
        self.opens: datetime | None = None
        self._size = 1   # until the channel has shown how quick it is: what hangs holds up itself only
        self._doubtful: list[int] = []   # to go once more, but not in the run that lost them

    def step(self, most: int | None) -> int | None:
        """Deliver one group; how many rows were taken, 0 while its pace says wait, None when this run has no more to do."""
        now = self.clock.now()
        if self.opens is not None and self.opens > now:
            return 0
        size = self._size if most is None else min(self._size, most)
        size = queries.waiting(self.channel, now).exclude(pk__in=self._doubtful)[:size].count()
        if not size:
            return None
        try:
            carrier = self.carriers.get(self.channel, now)
        except CarrierDown:
            self._paused()
            return None
        moments, self.opens = reserve_moments(channel=self.channel, wanted=size, within=FRESH / 2, now=now)
        if not moments:
            return 0
        group = Group(self.worker, self.clock, self.counts)
        rows = group.claim(self.channel, len(moments), self._doubtful)
        ready = group.judged(rows, carrier is not None)
        if carrier is not None and ready and not self._send_all(group, ready, carrier, moments):
            self._paused()
            return None
        return len(rows) or None   # none: other workers are at them

    def _send_all(self, group: Group, ready: list[Ready], carrier: Carrier, moments: list[datetime]) -> bool:
        """Hand them over in turn, those that come too late for their judgement go back; False when the channel is down."""
        begun, gone, usable = self.clock.now(), 0, True
        for each, moment in zip(ready, moments, strict=False):
            if moment > self.clock.now():
                group.record()
                self.clock.sleep((moment - self.clock.now()).total_seconds())
            now = self.clock.now()
            if (gone and now - begun > FRESH) or each.verdict(now).what != "send":
                break
            gone += 1
            if not group.hand_over(each.message.pk):
                self.counts["taken"] += 1
            elif not self._send(group, each, carrier):
                usable = False
                break
        group.record()
        group.give_back([each.message.pk for each in ready[gone:]])
        self._adapt(gone, self.clock.now() - begun)
        return usable

    def _send(self, group: Group, ready: Ready, carrier: Carrier) -> bool:
        """Let one leave and write what is known of it; False when the channel cannot be used."""
        key = ready.message.pk
        try:
            carrier.send(ready.letter)
        except RefusedForGood as refused:
            group.record()   # first: this one's mark, which goes now, says that those have left
            self._refused(group, ready, refused.reason)
        except TryLater:
            group.record()
            group.try_later(key)
        except CarrierDown as error:
            group.record()
            group.mine([key]).update(state=MessageState.PENDING, attempts=F("attempts") - 1, **FREE)
            self.carriers.down(self.channel, error, self.clock.now())
            return False
        except Exception as error:   # nobody can say whether it left
            log.error("outcome_unknown", {"message": key, "error_type": type(error).__name__}, exc_info=True)
            group.record()
            settled = settle_unknown(pk=key, token=group.token, kind=ready.kind.code, now=self.clock.now())
            self._doubtful.append(key)
            self.counts[settled] += 1
        else:
            group.sent(key)
        return True

    @transaction.atomic
    def _refused(self, group: Group, ready: Ready, reason: str) -> None:
        message = ready.message
        group.mine([message.pk]).update(state=MessageState.FAILED, reason=reason, **FREE)
        if reason == "no_such_address":
            suppress_address(by=system_actor(), message=message, address=ready.letter.address, now=self.clock.now())
        self.counts["failed"] += 1

    def _paused(self) -> None:
        self.counts["paused"] += queries.waiting(self.channel, self.clock.now()).count()

    def _adapt(self, gone: int, took: timedelta) -> None:
        """A quick channel gets larger groups; one that takes a second a message gets them one by one."""
        fits = (FRESH / 2 * gone) // took if took else LARGEST_GROUP
        self._size = max(1, min(LARGEST_GROUP, 2 * self._size, fits))
