"""Bring many programs up to date: once a day in each client's zone every open one, after a sheet those it told of."""

from __future__ import annotations

import logging
from collections.abc import Collection
from datetime import datetime

from django.db import DatabaseError, transaction

from programs.following.actions.follow_program import follow_program
from programs.following.queries import programs_behind
from programs.prescribing.models import Program

log = logging.getLogger("intervale.following")


def follow_programs(*, programs: Collection[int] | None = None, now: datetime) -> int:
    """Follow those with these keys, or those whose state is not of today; the number done. Each in its own transaction: one
    that cannot be followed is named in the log and holds up no other."""
    done = 0
    for pk in programs_behind(now) if programs is None else sorted(programs):
        try:
            with transaction.atomic():
                Program.objects.select_for_update().only("pk").get(pk=pk)
                program = Program.objects.select_related("client__site", "clinician__user").get(pk=pk)
                follow_program(program=program, now=now)
        except (ValueError, KeyError, ArithmeticError, DatabaseError) as error:
            log.error("program_not_followed", {"program": pk, "error_type": type(error).__name__})
        else:
            done += 1
    return done
