"""A few messages of one channel that one worker takes: claimed together, judged together, handed over one by one."""

from __future__ import annotations

import logging
import random
import secrets
from collections import Counter, defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F, QuerySet

from clinic.reminders import queries
from clinic.reminders.actions.release_leases import FREE, LEFT
from clinic.reminders.batch import Clock
from clinic.reminders.channels import Letter
from clinic.reminders.kinds import Kind, known
from clinic.reminders.letters import recipient_of, write_letter
from clinic.reminders.models import Message
from clinic.reminders.rules.backoff import wait_after
from clinic.reminders.rules.sending import Recipient, Verdict, judge
from clinic.reminders.vocab import MessageState

log = logging.getLogger("intervale.reminders")


@dataclass(frozen=True)
class Ready:
    """A claimed message that may go: to whom, under which rules, and what it says."""

    message: Message
    kind: Kind
    recipient: Recipient
    letter: Letter

    def verdict(self, now: datetime) -> Verdict:
        """Whether it may still go at this moment, as far as the clock says."""
        return judge(
            self.recipient, now=now, not_after=self.message.not_after, needs_consent=self.kind.needs_consent,
            respects_quiet_hours=self.kind.respects_quiet_hours,
        )


class Group:
    """The claim: everything it writes names its token, so that a row whose lease ran out is another worker's."""

    def __init__(self, worker: str, clock: Clock, counts: Counter[str]) -> None:
        self.token, self.clock, self.counts = f"{worker[:23]}#{secrets.token_hex(8)}", clock, counts
        self._sent: list[int] = []   # left, and not recorded yet

    def claim(self, channel: str, size: int, leave: Collection[int]) -> list[Message]:
        """Take up to `size` due messages, oldest due first, passing over what another worker takes at this moment."""
        now = self.clock.now()
        due = queries.waiting(channel, now).exclude(pk__in=leave) if leave else queries.waiting(channel, now)
        with transaction.atomic():
            keys = list(due.select_for_update(skip_locked=True, of=("self",)).values_list("pk", flat=True)[:size])
            Message.objects.filter(pk__in=keys, state=MessageState.PENDING, due__lte=now).update(
                state=MessageState.CLAIMED, claimed_by=self.token, lease_until=self.lease()
            )
        return list(queries.with_recipient(self.mine(keys)).order_by("due", "pk"))

    def lease(self) -> datetime:
        return self.clock.now() + timedelta(seconds=settings.LEASE_SECONDS)

    def mine(self, keys: Collection[int]) -> QuerySet[Message]:
        """Those of the rows that are still this worker's."""
        return Message.objects.filter(pk__in=keys, claimed_by=self.token, state=MessageState.CLAIMED)

    def judged(self, rows: list[Message], can_carry: bool) -> list[Ready]:
        """Those that may go now. What becomes of the others is written, a statement for each outcome."""
        _look_up(rows)
        ready: list[Ready] = []
        ended: dict[tuple[MessageState, str], list[int]] = defaultdict(list)
        moved: dict[datetime, list[int]] = defaultdict(list)
        for message in rows:
            try:
                outcome = self._judge(message, can_carry)
            except Exception as error:   # one kind's broken check must not hold up the others
                log.error("check_failed", {"message": message.pk, "error_type": type(error).__name__}, exc_info=True)
                self.mine([message.pk]).update(attempts=F("attempts") + 1)
                self.try_later(message.pk)
                continue
            if isinstance(outcome, Ready):
                ready.append(outcome)
            elif isinstance(outcome, datetime):
                moved[outcome].append(message.pk)
            else:
                ended[outcome].append(message.pk)
        for (state, reason), keys in ended.items():
            self.counts[state.value] += self.mine(keys).update(state=state, reason=reason[:40], **FREE)
        for until, keys in moved.items():
            self.counts["moved"] += self.mine(keys).update(state=MessageState.PENDING, due=until, **FREE)
        return ready

    def _judge(self, message: Message, can_carry: bool) -> Ready | datetime | tuple[MessageState, str]:
        kind, now = known(message.kind), self.clock.now()
        if kind is None or not can_carry:
            return MessageState.FAILED, "no_channel" if kind else "unknown_kind"
        recipient = recipient_of(message)
        verdict = judge(
            recipient, now=now, not_after=message.not_after, needs_consent=kind.needs_consent,
            respects_quiet_hours=kind.respects_quiet_hours,
        )
        if verdict.until is not None:
            return verdict.until
        reason = verdict.reason if verdict.what == "skip" else kind.still_wanted(message, now)
        if reason:
            return MessageState.SKIPPED, reason
        return Ready(message, kind, recipient, write_letter(message, kind, recipient))

    def hand_over(self, key: int) -> bool:
        """Mark it as about to leave; False when it is another worker's by now."""
        marks = {"handed_over_at": self.clock.now(), "attempts": F("attempts") + 1, "lease_until": self.lease()}
        return bool(self.mine([key]).update(**marks))

    def sent(self, key: int) -> None:
        """It has left. Until `record` writes that down, the next hand-over of this claim is what says so."""
        self._sent.append(key)

    def record(self) -> None:
        """Write down which have left."""
        if not self._sent:
            return
        if self.mine(self._sent).update(sent_at=F("handed_over_at"), **LEFT) < len(self._sent):
            # slower than the lease: rows were given back, but what we know ends the doubt unless another has them already
            doubted = Message.objects.filter(pk__in=self._sent, state__in=[MessageState.PENDING, MessageState.UNKNOWN])
            doubted.update(sent_at=self.clock.now(), **LEFT)
        self.counts["sent"] += len(self._sent)
        self._sent = []

    def give_back(self, keys: Collection[int]) -> int:
        """Back to waiting as if never taken; how many."""
        return self.mine(keys).filter(handed_over_at__isnull=True).update(state=MessageState.PENDING, **FREE) if keys else 0

    def try_later(self, key: int) -> None:
        """Wait longer after each attempt; failed when that would be too late to be of use."""
        row = self.mine([key]).values_list("attempts", "not_after").first()
        if row is None:
            self.counts["taken"] += 1
            return
        attempts, not_after = row
        due = self.clock.now() + wait_after(max(attempts, 1), random.random())   # noqa: S311 - jitter, not a secret
        if due > not_after:
            self.counts["failed"] += self.mine([key]).update(state=MessageState.FAILED, reason="gave_up", **FREE)
        else:
            self.counts["later"] += self.mine([key]).update(state=MessageState.PENDING, due=due, **FREE)


def _look_up(rows: list[Message]) -> None:
    """Let each kind read what its messages are about in one go. One that cannot leaves it to the checks themselves."""
    by_kind: dict[str, list[Message]] = defaultdict(list)
    for message in rows:
        by_kind[message.kind].append(message)
    for code, messages in by_kind.items():
        kind = known(code)
        if kind is None or kind.look_up is None:
            continue
        found = kind.look_up(messages)
        for message in messages:
            message.found, message.looked_up = found.get(message.about), True
