"""What the daily digest counts. Each app registers what waits in it; only numbers leave here, never whose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from clinic.people.models import User
from clinic.people.vocab import Role
from clinic.reminders import queries


@dataclass(frozen=True)
class Waiting:
    """A number and what it counts, for one and for several."""

    number: int
    one: str
    many: str

    def __str__(self) -> str:
        return f"{self.number} {self.one if self.number == 1 else self.many}"


Reader = Callable[[User, datetime, str], list[Waiting]]   # of the person, the moment, and the zone of their site
_readers: list[Reader] = []


def register(reader: Reader) -> None:
    """Make something that waits known; a reader asks through the doors of the person it is for."""
    if reader not in _readers:
        _readers.append(reader)


def counts_for(user: User, now: datetime, zone: str) -> str:
    """Everything that waits for this person in one line; empty when nothing does."""
    found = (each for reader in _readers for each in reader(user, now, zone))
    return "; ".join(str(each) for each in found if each.number)


def outbox(user: User, now: datetime, zone: str) -> list[Waiting]:
    """Messages and addresses that the desk should look at."""
    if user.role != Role.FRONT_DESK:
        return []
    return [
        Waiting(queries.messages_for(user, needing_a_person=True).count(), "message to look at", "messages to look at"),
        Waiting(queries.suppressions_for(user).count(), "address that does not work", "addresses that do not work"),
    ]


register(outbox)
