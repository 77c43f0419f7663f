"""What one run of deliveries carries along: its clock and its open ways out."""

from __future__ import annotations

import logging
import time
from datetime import datetime, timedelta

from clinic.reminders.channels import Carrier, CarrierDown, carrier_for
from clinic.reminders.models import Heartbeat
from clinic.reminders.vocab import down

log = logging.getLogger("intervale.reminders")


class Clock:
    """`now` plus what has passed since, by a clock that never steps back."""

    def __init__(self, now: datetime) -> None:
        self._now, self._started = now, time.monotonic()

    def passed(self) -> float:
        return time.monotonic() - self._started

    def now(self) -> datetime:
        return self._now + timedelta(seconds=self.passed())

    def sleep(self, seconds: float) -> None:
        time.sleep(seconds)


class Carriers:
    """The open way out of each channel during one run."""

    def __init__(self) -> None:
        self._open: dict[str, Carrier | None] = {}
        self._down: set[str] = set()

    def get(self, channel: str, now: datetime) -> Carrier | None:
        """The open carrier, None when the clinic has none; CarrierDown when it cannot be used now."""
        if channel in self._down:
            raise CarrierDown(channel)
        if channel not in self._open:
            carrier = carrier_for(channel)
            try:
                if carrier is not None:
                    carrier.open()
            except CarrierDown as error:
                self.down(channel, error, now)
                raise
            self._open[channel] = carrier
        return self._open[channel]

    def down(self, channel: str, error: CarrierDown, now: datetime) -> None:
        """Leave the channel alone for this run; say so once, not at every tick."""
        self._down.add(channel)
        _, first = Heartbeat.objects.get_or_create(name=down(channel), defaults={"at": now})
        if first:
            log.error("channel_down", {"channel": channel, "error_type": str(error)})

    def close(self) -> None:
        """Close what is open; a channel that was open and did not fail is no longer known as down."""
        working = [down(channel) for channel, carrier in self._open.items() if carrier and channel not in self._down]
        if working:
            Heartbeat.objects.filter(name__in=working).delete()
        for carrier in self._open.values():
            if carrier is not None:
                carrier.close()
