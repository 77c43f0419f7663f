"""Deliver what is due: claim a row, judge it and mark it as handed over, let it leave, record what became of it."""

from __future__ import annotations

import logging
import random
import secrets
from collections import Counter
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F

from clinic.people.queries import system_actor
from clinic.reminders import queries
from clinic.reminders.actions.release_leases import FREE, release_leases, settle_unknown
from clinic.reminders.actions.suppress_address import suppress_address
from clinic.reminders.batch import Carriers, Clock
from clinic.reminders.channels import Carrier, CarrierDown, Letter, RefusedForGood, TryLater
from clinic.reminders.kinds import known
from clinic.reminders.letters import recipient_of, write_letter
from clinic.reminders.models import Message
from clinic.reminders.rules.backoff import wait_after
from clinic.reminders.rules.sending import judge
from clinic.reminders.vocab import MessageState

log = logging.getLogger("intervale.reminders")
BATCH_SECONDS = 60   # a batch makes room for the next tick; what is left is still there


def deliver_due(*, now: datetime, worker: str, limit: int = 50) -> Counter[str]:
    """Send at most `limit` due messages, oldest due first; counts per outcome.

    Outcomes: sent, skipped, moved (quiet hours), later (tried, will be tried again), failed, paused (the channel cannot
    be used: nothing was touched), resent and unknown (an outcome nobody knows), released, taken (another worker's).
    """
    if queries.held():
        return Counter()
    clock, carriers = Clock(now), Carriers()
    counts = release_leases(now=now)
    due = Message.objects.filter(state=MessageState.PENDING, due__lte=now).order_by("due", "pk")
    try:
        for pk, channel in list(due.values_list("pk", "channel")[:limit]):
            if clock.passed() > BATCH_SECONDS:
                break
            counts[_deliver(pk, channel, worker, clock, carriers)] += 1
    finally:
        carriers.close()
    if counts:
        log.info("delivered", dict(counts))
    return counts


def _deliver(pk: int, channel: str, worker: str, clock: Clock, carriers: Carriers) -> str:
    try:
        carrier = carriers.get(channel, clock.now())
    except CarrierDown:
        return "paused"
    token = f"{worker[:23]}#{secrets.token_hex(8)}"
    claimed = Message.objects.filter(pk=pk, state=MessageState.PENDING, due__lte=clock.now()).update(
        state=MessageState.CLAIMED, claimed_by=token, lease_until=_lease(clock)
    )
    if not claimed:
        return "taken"
    try:
        letter = _hand_over(pk, token, clock, carrier is not None)
    except Exception as error:   # one kind's broken check must not hold up the others
        log.error("check_failed", {"message": pk, "error_type": type(error).__name__}, exc_info=True)
        Message.objects.filter(pk=pk).update(attempts=F("attempts") + 1)
        return _try_later(pk, token, clock.now())
    if isinstance(letter, str) or carrier is None:
        return str(letter)
    return _send(pk, token, letter, clock, carrier, carriers, channel)


def _lease(clock: Clock) -> datetime:
    return clock.now() + timedelta(seconds=settings.LEASE_SECONDS)


@transaction.atomic
def _hand_over(pk: int, token: str, clock: Clock, can_carry: bool) -> Letter | str:
    """Judge under lock. The letter with `handed_over_at` set, or the outcome when it does not go now."""
    now = clock.now()
    message = (
        queries.with_suppression(Message.objects.select_for_update(of=("self",)))
        .select_related("client__site", "client__user", "staff__user")
        .filter(pk=pk, claimed_by=token, state=MessageState.CLAIMED)
        .first()
    )
    if message is None:
        return "taken"
    kind = known(message.kind)
    if kind is None or not can_carry:
        return _end(message, MessageState.FAILED, "no_channel" if kind else "unknown_kind")
    recipient = recipient_of(message)
    verdict = judge(
        recipient,
        now=now,
        not_after=message.not_after,
        needs_consent=kind.needs_consent,
        respects_quiet_hours=kind.respects_quiet_hours,
    )
    if verdict.what == "wait":
        Message.objects.filter(pk=pk).update(state=MessageState.PENDING, due=verdict.until, **FREE)
        return "moved"
    reason = verdict.reason if verdict.what == "skip" else kind.still_wanted(message, now)
    if reason:
        return _end(message, MessageState.SKIPPED, reason)
    Message.objects.filter(pk=pk).update(
        handed_over_at=clock.now(), attempts=F("attempts") + 1, lease_until=_lease(clock)
    )
    return write_letter(message, kind, recipient)


def _end(message: Message, state: MessageState, reason: str) -> str:
    Message.objects.filter(pk=message.pk).update(state=state, reason=reason[:40], **FREE)
    return state.value


def _send(
    pk: int, token: str, letter: Letter, clock: Clock, carrier: Carrier, carriers: Carriers, channel: str
) -> str:
    claim = Message.objects.filter(pk=pk, claimed_by=token, state=MessageState.CLAIMED)
    try:
        carrier.send(letter)
    except RefusedForGood as refused:
        return _refused(pk, token, letter, refused.reason, clock.now())
    except TryLater:
        return _try_later(pk, token, clock.now())
    except CarrierDown as error:
        claim.update(state=MessageState.PENDING, attempts=F("attempts") - 1, **FREE)
        carriers.down(channel, error, clock.now())
        return "paused"
    except Exception as error:   # nobody can say whether it left
        log.error("outcome_unknown", {"message": pk, "error_type": type(error).__name__}, exc_info=True)
        kind = Message.objects.values_list("kind", flat=True).get(pk=pk)
        return settle_unknown(pk=pk, token=token, kind=kind, now=clock.now())
    return _record(pk, token, clock.now())


@transaction.atomic
def _refused(pk: int, token: str, letter: Letter, reason: str, now: datetime) -> str:
    claim = Message.objects.filter(pk=pk, claimed_by=token, state=MessageState.CLAIMED)
    claim.update(state=MessageState.FAILED, reason=reason, **FREE)
    if reason == "no_such_address":
        message = Message.objects.select_related("client", "staff").get(pk=pk)
        suppress_address(by=system_actor(), message=message, address=letter.address, now=now)
    return "failed"


def _record(pk: int, token: str, now: datetime) -> str:
    done = {"state": MessageState.SENT, "sent_at": now, "reason": "", "claimed_by": "", "lease_until": None}
    if not Message.objects.filter(pk=pk, claimed_by=token, state=MessageState.CLAIMED).update(**done):
        # slower than the lease: the row was given back, but what we know ends the doubt unless another has it already
        Message.objects.filter(pk=pk, state__in=[MessageState.PENDING, MessageState.UNKNOWN]).update(**done)
    return "sent"


def _try_later(pk: int, token: str, now: datetime) -> str:
    claim = Message.objects.filter(pk=pk, claimed_by=token, state=MessageState.CLAIMED)
    row = claim.values_list("attempts", "not_after").first()
    if row is None:
        return "taken"
    attempts, not_after = row
    due = now + wait_after(max(attempts, 1), random.random())   # noqa: S311 - jitter, not a secret
    if due > not_after:
        claim.update(state=MessageState.FAILED, reason="gave_up", **FREE)
        return "failed"
    claim.update(state=MessageState.PENDING, due=due, **FREE)
    return "later"
