"""Django's migrate, made safe to run while the clinic works: it never waits long for a table, so nobody waits behind it."""

from __future__ import annotations

import time
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.core.management.commands import migrate
from django.db import OperationalError, connections

LOCK_NOT_AVAILABLE = "55P03"   # SQLSTATE, PostgreSQL 15 manual, appendix A
PAUSE = 2.0   # seconds between tries


class Command(migrate.Command):
    """On PostgreSQL a change of a table waits for whoever reads it, and everybody else waits behind the change."""

    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--lock-seconds", type=int, default=5, help="How long to wait for a table that is in use")
        parser.add_argument("--tries", type=int, default=6, help="How often to try before giving up")

    def handle(self, *args: Any, **options: Any) -> None:
        connection, seconds = connections[options["database"]], options["lock_seconds"]
        if connection.vendor != "postgresql":
            super().handle(*args, **options)
            return
        for turn in range(options["tries"]):
            with connection.cursor() as cursor:
                cursor.execute("SET lock_timeout = %s", [f"{seconds}s"])
            try:
                super().handle(*args, **options)
                return
            except OperationalError as error:
                if getattr(error.__cause__, "sqlstate", "") != LOCK_NOT_AVAILABLE:
                    raise
                self.stderr.write(f"A table was in use for {seconds} seconds; try {turn + 1} of {options['tries']}.")
            finally:
                with connection.cursor() as cursor:
                    cursor.execute("RESET lock_timeout")
            time.sleep(PAUSE)
        raise CommandError("A table stayed in use. That migration was undone whole; those before it stay. Run this again.")
