"""Working every read model of a practice out anew: 10,000 programs of 180 days, six exercises logged each day, on PostgreSQL.

The rows of days, phases, levels and ribbons are gone; what stands are the records, and of each state its day. Yardstick:
reading the same logs, their items and the morning answers as bare tuples and bulk-inserting as many day rows into the same
table through the same library, with no plan and no fold. Times are processor time of this process and of its database process
together (see dashboards.py). INTERVALE_BENCH_PROGRAMS measures fewer programs: the time grows with them.
"""

from __future__ import annotations

import os
import resource
from datetime import UTC, datetime, timedelta

from tests.benchmarks.common import Measured, quickest

SETTING = "postgres"
PROGRAMS = int(os.environ.get("INTERVALE_BENCH_PROGRAMS", "10000"))
PATTERN, DAYS = 10, 180       # programs that are made; the others are copies of them
CHUNK = 50                    # programs whose logs are read bare at once
ROUNDS = 2
GONE = ("dayrecord", "phaserun", "itemrun", "ribbonrow")


def measure() -> list[Measured]:
    """The rebuild against reading and inserting bare, and its memory against that of a tenth of the programs."""
    from programs.following.actions.rebuild_following import rebuild_following
    from tests.benchmarks.dashboards import _clock

    now = practice(PROGRAMS // 10)

    def rebuild() -> None:
        rebuild_following(now=now, write=True)

    rebuild()
    small = most_held()
    practice(PROGRAMS, have=PROGRAMS // 10)
    took, held = [quickest(rebuild, rounds=1, clock=_clock())], most_held()
    empty()
    against = [quickest(bare, rounds=1, clock=_clock())]
    for _ in range(ROUNDS - 1):
        empty()
        took.append(quickest(rebuild, rounds=1, clock=_clock()))
        empty()
        against.append(quickest(bare, rounds=1, clock=_clock()))
    many = f"{PROGRAMS:,} programs of {DAYS} days"
    return [
        Measured(
            f"rebuilding {many}", min(took), "reading the logs and inserting as many days, bare", min(against), 3.0
        ),
        Measured(f"most memory held while rebuilding {many}", held, "a tenth of them", small, 1.5, unit="MB"),
    ]


def practice(programs: int, have: int = 0) -> datetime:
    """So many programs in place of those there are; the moment that is noon after their last day. Their rows are gone."""
    from tests.benchmarks.big_practice import PATTERN as EACH
    from tests.benchmarks.big_practice import grow
    from tests.benchmarks.one_log import START, program_with_logs

    for number in range(0 if have else PATTERN):
        program_with_logs(DAYS + number)     # a few days longer each: the number tells their people apart
    empty()
    grow(have=max(have // PATTERN, 1) * EACH, want=programs // PATTERN * EACH)
    end = START + timedelta(days=DAYS + PATTERN)
    return datetime(end.year, end.month, end.day, 12, tzinfo=UTC)


def empty() -> None:
    """Take away what is to be worked out anew."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(f"TRUNCATE {', '.join(f'following_{name}' for name in GONE)}")


def bare() -> None:
    """Every log read, and as many day rows written."""
    from programs.following.models import DayRecord, ItemLog, MorningAnswer, ProgramState, SessionLog
    from tests.benchmarks.one_log import START

    states = list(ProgramState.objects.order_by("program").values_list("program_id", "as_of"))
    for place in range(0, len(states), CHUNK):
        chunk = states[place:place + CHUNK]
        keys = [key for key, _ in chunk]
        logs, items = SessionLog.objects.filter(program__in=keys), ItemLog.objects.filter(log__program__in=keys)
        for row in logs.values_list(
            "pk", "program_id", "log_id", "edit", "day", "revision_id", "pain_before", "pain_during", "effort", "rating",
            "started",
        ).iterator(chunk_size=2000):
            del row
        for row in items.order_by("pk").values_list(
            "log_id", "item_key", "done_left", "done_right", "reps_last_set", "rating", "skipped"
        ).iterator(chunk_size=2000):
            del row
        list(MorningAnswer.objects.filter(program__in=keys).values_list("program_id", "day", "pain"))
        DayRecord.objects.bulk_create([
            DayRecord(program_id=key, day=START + timedelta(days=index), state="prescribed", phase_kind="maintenance",
                      phase_number=2, prescribed_sessions=1, prescribed_minimum=300, prescribed_full=600, logged=True,
                      sessions_done=1, done_seconds=360, credit=1.0, pain=2, effort=4)
            for key, as_of in chunk for index in range((as_of - START).days + 1)
        ], batch_size=2000)


def most_held() -> float:
    """Megabytes that this process held in memory at its worst moment so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
