"""Walk the chain over the trail and name the first break."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from clinic.trust import queries
from clinic.trust.rules.chain import Head


class Command(BaseCommand):
    help = "Walks the sealed trail; fails at the first break. Keep the head it prints outside the database."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--head", default="", help="NUMBER:DIGEST noted earlier; shows links cut off the end")

    def handle(self, *args: Any, **options: Any) -> None:
        known = None
        if options["head"]:
            number, _, digest = options["head"].partition(":")
            if not number.isdigit() or len(digest) != 64:
                raise CommandError("--head wants NUMBER:DIGEST as printed by an earlier run.")
            known = Head(int(number), digest)
        found = queries.verdict(now=timezone.now(), known=known)
        if found.first_break:
            where = f", event {found.first_break.event}" if found.first_break.event else ""
            raise CommandError(f"The trail breaks at link {found.first_break.number}{where}: {found.first_break.code}.")
        if found.known_head is False:
            raise CommandError(f"The head {options['head']} is not in the trail any more: links were cut off or replaced.")
        if found.unsealed:
            raise CommandError(f"{found.unsealed} events have waited too long for their seal; is the worker running?")
        self.stdout.write(f"The trail is whole to {found.head.number}:{found.head.digest}")
