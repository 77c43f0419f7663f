"""The figures that a monitoring system reads: counts and ages, nothing about a person. Each app registers its own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import datetime

from clinic.people.vocab import Channel
from clinic.reminders import queries
from clinic.reminders.kinds import all_kinds
from clinic.reminders.rules.exposition import Gauge, Sample, by_label, gauge
from clinic.reminders.vocab import DELIVER, MessageState, down

Reader = Callable[[datetime], list[Gauge]]
_readers: list[Reader] = []


def register(reader: Reader) -> None:
    """Make figures known; a reader takes the moment and asks the database a fixed number of questions."""
    if reader not in _readers:
        _readers.append(reader)


def all_gauges(now: datetime) -> list[Gauge]:
    """Every figure there is, as of `now`."""
    return [each for reader in _readers for each in reader(now)]


def outbox(now: datetime) -> list[Gauge]:
    """How the outbox is doing. Three queries and one for each channel."""
    beats = queries.beats()
    found = [
        _messages(queries.counts_by_kind_and_state()),
        gauge(
            "intervale_outbox_oldest_due_seconds", "How long the message that has waited longest is overdue; 0: none is",
            queries.oldest_due_age(now).total_seconds(),
        ),
        gauge("intervale_outbox_held", "1 while the lead lets nothing leave the outbox", queries.held() is not None),
        by_label(
            "intervale_channel_down", "1 while messages cannot leave this way", "channel",
            {channel: down(channel) in beats for channel in Channel.values},
        ),
    ]
    if DELIVER in beats:   # before the first run there is no age: an absent figure is the alarm
        age = max(0.0, (now - beats[DELIVER]).total_seconds())
        found.append(
            by_label("intervale_heartbeat_age_seconds", "Since background work last ran to its end", "work", {DELIVER: age})
        )
    return found


def _messages(counts: Counter[tuple[str, str]]) -> Gauge:
    # a kind without messages is there with zeros, so that an alarm on it does not wait for its first
    pairs = {(kind.code, state) for kind in all_kinds() for state in MessageState.values} | set(counts)
    samples = (Sample(counts[kind, state], (("kind", kind), ("state", state))) for kind, state in sorted(pairs))
    return Gauge("intervale_messages", "Messages in the outbox by kind and state", tuple(samples))


register(outbox)
