"""A mail server on a port of this machine that keeps what it took, and misbehaves for an address when told to."""

from __future__ import annotations

import asyncio
from collections import Counter
from email import message_from_bytes, policy

from aiosmtpd.controller import Controller

from tests.reminders.processes import free_port

FOREVER = 600


class Post:
    """`manners[address]` is one of: `451`, `550`, `554` (said at RCPT, RCPT, DATA), `hang` (the letter is here, no answer),
    `hang_early` (RCPT is never answered), `drop` (the letter is here, the line is cut). Others are taken.

    `asked` counts how often an address was named; `letters` holds (address, Message-ID) of what is really here.
    """

    def __init__(self) -> None:
        self.manners: dict[str, str] = {}
        self.letters: list[tuple[str, str]] = []
        self.asked: Counter[str] = Counter()
        self.port = free_port()
        self._controller: Controller | None = None
        self.open()

    def open(self) -> None:
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)
        self._controller.start()

    def shut(self) -> None:
        if self._controller is not None:
            self._controller.stop()
            self._controller = None

    def copies(self) -> Counter[str]:
        """How many copies of each Message-ID are here."""
        return Counter(reference for _, reference in self.letters)

    async def handle_RCPT(self, server, session, envelope, address, options):
        self.asked[address] += 1
        manner = self.manners.get(address, "")
        if manner == "hang_early":
            await asyncio.sleep(FOREVER)
        if manner == "451":
            return "451 4.3.0 not now"
        if manner == "550":
            return "550 5.1.1 no such user"
        envelope.rcpt_tos.append(address)
        return "250 fine"

    async def handle_DATA(self, server, session, envelope):
        address = envelope.rcpt_tos[0]
        manner = self.manners.get(address, "")
        if manner == "554":
            return "554 5.6.0 not this"
        letter = message_from_bytes(envelope.content, policy=policy.default)
        self.letters.append((address, letter["Message-ID"]))
        if manner == "hang":
            await asyncio.sleep(FOREVER)
        if manner == "drop":
            server.transport.close()
        return "250 taken"
