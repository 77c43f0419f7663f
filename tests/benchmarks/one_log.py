"""One log accepted, with days, state, runs, ribbon and suggestions current: how long, and does the length of history matter.

Yardstick: the same work for a program with ten days of logs beside one with four hundred; both hold six exercises and are
logged once a day. Each sample is a log of a session that nobody knew yet.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from tests.benchmarks.common import Measured, quickest

SETTING = "plain"
SHORT, LONG = 10, 400         # days of logs before the one that is measured
SAMPLES, ROUNDS = 2, 20
START = date(2025, 1, 6)
KEYS = tuple(UUID(int=number) for number in range(1, 7))


def measure() -> list[Measured]:
    """Processor seconds of the action behind the portal, its transaction and audit row included."""
    long, short = (_logging(days) for days in (LONG, SHORT))
    took, against = (quickest(work, rounds=ROUNDS, times=SAMPLES) for work in (long, short))
    return [
        Measured(
            name=f"one log accepted after {LONG} days of logs", took=took, yardstick=f"the same after {SHORT} days",
            against=against, most=1.5, most_took=0.02,
        )
    ]


def _logging(days: int) -> Any:
    """What takes in one more session of a program with so many days of logs behind it."""
    from programs.following.actions.log_session import log_session
    from programs.following.rules.entry import SessionEntry

    program, revision = program_with_logs(days)
    today = START + timedelta(days=days)
    now = datetime(today.year, today.month, today.day, 18, tzinfo=UTC)

    def work() -> None:
        entry = SessionEntry(
            uuid4(), 0, revision.public_id, today, started=now - timedelta(minutes=30), pain_during=2, effort=4,
            rating="about_right", items=_items(),
        )
        log_session(by=program.client.user, program=program, entry=entry, now=now)

    work()
    return work


def _items() -> tuple[Any, ...]:
    from programs.following.rules.entry import ItemEntry

    return tuple(ItemEntry(key, 60, 0, reps_last_set=10, rating="about_right") for key in KEYS)


def program_with_logs(days: int, who_is_it: str = "") -> tuple[Any, Any]:
    """A program of six exercises that began so many days ago, logged once on each of them, and followed. Two of as many days
    need names for their people."""
    from clinic.people.models import Client, Episode, Site, Staff, User
    from clinic.people.vocab import Role
    from programs.following.actions.follow_program import follow_program
    from programs.following.actions.load_rule_set import load_rule_set
    from programs.following.models import ItemLog, SessionLog
    from programs.library.models import Exercise, Level
    from programs.library.rules.dose import Reps, Span, dose_to_json
    from programs.prescribing.actions.prescribe_program import prescribe_program
    from programs.prescribing.models import Revision
    from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
    from tests.conftest import screen

    begun = datetime(START.year, START.month, START.day, 9, tzinfo=UTC)
    load_rule_set(now=begun)
    site, _ = Site.objects.get_or_create(
        name="Bench Lane", zone="Europe/London", phone="+441632960100", emergency_number="999", region_code="GB"
    )
    who = User.objects.create_user(f"clinician{who_is_it or days}@bench.example", Role.CLINICIAN)
    clinician = Staff.objects.create(user=who, name="Bench")
    clinician.sites.add(site)
    client = Client.objects.create(
        user=User.objects.create_user(f"client{who_is_it or days}@bench.example", Role.CLIENT), site=site, given_name="Ben",
        zone=site.zone, registered=begun,
    )
    episode = Episode.objects.create(
        client=client, lead=clinician, region="hip", side="left", complaint="Hip", opened=START
    )
    screen(client, who, begun)
    dose = Reps(Span(1, 2), Span(8, 10), tempo=3)
    for number in range(len(KEYS)):
        exercise, new = Exercise.objects.get_or_create(
            slug=f"bench-{number}", defaults={"name": f"Bench {number}", "region": "hip", "kind": "strength", "side": "both"}
        )
        if new:
            for level in (1, 2):
                Level.objects.create(exercise=exercise, number=level, name=f"Level {level}", dose=dose_to_json(dose))
    plan = Plan(
        START, (PhasePlan("kick_off", 7, Span(1, 2)), PhasePlan("maintenance", None, Span(1, 1))),
        tuple(ItemPlan(key, f"bench-{number}", 1, dose, "both", Span(1, 1), 20) for number, key in enumerate(KEYS)),
    )
    program = prescribe_program(
        by=who, episode=episode, plan=plan, title="Bench", starts=START, now=begun
    )
    revision = Revision.objects.get(program=program)
    logs = SessionLog.objects.bulk_create(
        SessionLog(
            log_id=uuid4(), program=program, revision=revision, day=START + timedelta(days=index),
            received=begun + timedelta(days=index), source="portal", by=client.user, pain_during=index % 4, effort=4,
            rating="about_right",
        )
        for index in range(days)
    )
    ItemLog.objects.bulk_create(
        ItemLog(log=log, item_key=entry.item_key, done_left=60, reps_last_set=10, rating="about_right")
        for log in logs for entry in _items()
    )
    follow_program(program=program, now=begun + timedelta(days=days))
    return program, revision
