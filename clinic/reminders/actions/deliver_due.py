"""Deliver what is due, on every channel in turn."""

from __future__ import annotations

import logging
from collections import Counter
from datetime import datetime

from clinic.people.vocab import Channel
from clinic.reminders import queries
from clinic.reminders.actions.release_leases import release_leases
from clinic.reminders.batch import Carriers, Clock
from clinic.reminders.lane import Lane

log = logging.getLogger("intervale.reminders")
RUN_SECONDS = 60   # a run makes room for the next tick; what is left is still there


def deliver_due(*, now: datetime, worker: str, limit: int | None = None, clock: Clock | None = None) -> Counter[str]:
    """Send what is due, on each channel the oldest due first, for a minute at most; counts per outcome.

    Outcomes: sent, skipped, moved (quiet hours), later (tried, will be tried again), failed, paused (the channel cannot
    be used: nothing was touched), resent and unknown (an outcome nobody knows), released, taken (another worker's).
    Channels take turns, so that one that is slow, limited or down holds up no other. `limit`: at most so many are taken.
    """
    if queries.held():
        return Counter()
    clock, carriers = clock or Clock(now), Carriers()
    counts = release_leases(now=now)
    lanes = [Lane(channel, worker, clock, carriers, counts) for channel in Channel.values]
    try:
        while lanes and clock.passed() <= RUN_SECONDS and (limit is None or limit > 0):
            for lane in list(lanes):
                took = lane.step(limit)
                if took is None:
                    lanes.remove(lane)
                elif limit is not None:
                    limit -= took
            if not _rested(lanes, clock) or queries.held():   # somebody may have stopped everything meanwhile
                break
    finally:
        carriers.close()
    if counts:
        log.info("delivered", dict(counts))
    return counts


def _rested(lanes: list[Lane], clock: Clock) -> bool:
    """Sleep while every channel waits for its pace; False when that lasts beyond the run, or no channel is left."""
    opens = [lane.opens for lane in lanes]
    if not opens or None in opens:
        return bool(opens)
    seconds = (min(each for each in opens if each) - clock.now()).total_seconds()
    if clock.passed() + seconds > RUN_SECONDS:
        return False
    clock.sleep(max(0.0, seconds))
    return True
