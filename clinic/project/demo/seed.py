"""Seeds the demo clinic: the same number gives the same clinic, told up to the moment it is made.

It is wiring: it calls the actions a person would call, at the moments they would have been called, and writes the many
session logs of the months past in bulk before the records are folded once.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from django.db import transaction
from django.db.models import F
from tqdm import tqdm

from clinic.people.actions.open_episode import open_episode
from clinic.people.actions.register_client import register_client
from clinic.people.models import AuditEvent, Client, Episode, User
from clinic.people.queries import open_conditions
from clinic.people.rules import zones
from clinic.project.demo import people, visits
from clinic.project.demo.book import Book
from clinic.project.demo.groups import fill_groups, plan_groups
from clinic.project.demo.logs import write_logs
from clinic.project.demo.notes import write_notes
from clinic.project.demo.practice import Practice, found_practice
from clinic.project.demo.story import Manner, manners
from clinic.project.reference import load_reference
from clinic.reminders.models import Message
from clinic.reminders.vocab import MessageState
from clinic.trust.actions.seal_trail import seal_trail
from programs.following.actions.follow_program import follow_program
from programs.following.actions.raise_alert import raise_alert
from programs.library.queries import levels_of
from programs.library.rules.dose import dose_from_json
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.actions.record_screening import record_screening
from programs.prescribing.actions.revise_program import revise_program
from programs.prescribing.models import Program, Template
from programs.prescribing.queries import plan_of, revision_on
from programs.prescribing.rules.plan import Plan
from programs.prescribing.rules.plan_json import plan_from_json

SLUGS = tuple(people.COMPLAINTS)
STEPS_BESIDE_CLIENTS = 3
STEPS_UP, STEP_UP_DAY = ("steady", "keen"), 24   # who gets a harder level of some exercises, and when


@transaction.atomic
def seed_demo(*, clients: int, months: int, seed: int, now: datetime, progress: bool = False) -> None:
    """Fill an empty database with `clients` clients whose stories reach back `months` months from `now`."""
    dice = random.Random(seed)  # noqa: S311 – stories, not secrets
    with tqdm(total=clients + STEPS_BESIDE_CLIENTS, desc="Inventing the clinic", unit="client", disable=not progress) as bar:
        load_reference(now - timedelta(days=400))
        practice = found_practice()
        book = Book(practice, dice)
        groups = plan_groups(practice, book, now)
        bar.update()
        for number, manner in enumerate(manners(clients)):
            _tell(practice, book, manner, number, months, now, dice)
            bar.update()
        fill_groups(practice, groups, now)
        _alert(practice, now)
        bar.update()
        # what would have gone out in the months past has gone out
        Message.objects.filter(due__lt=now - timedelta(hours=1)).update(
            state=MessageState.SENT, sent_at=F("due"), handed_over_at=F("due"), attempts=1
        )
        while AuditEvent.objects.filter(seal__isnull=True).exists():
            seal_trail(now=now)
        bar.update()


def _tell(
    practice: Practice, book: Book, manner: Manner, number: int, months: int, now: datetime, dice: random.Random
) -> None:
    age = dice.randint(*manner.newest) if manner.newest else dice.randint(14, months * 30)
    today = zones.day_in(now, practice.site.zone)
    start, clinician = today - timedelta(days=age), number % len(practice.clinicians)
    at = _at(start, practice, 10)
    slug = SLUGS[dice.randrange(len(SLUGS))] if manner.name != "waiting" else SLUGS[number % 2]
    client = _register(practice, number, at, dice)
    episode = _episode(practice, client, clinician, slug, start, at, dice)
    _screen(practice.clinicians[clinician].user, client, at)
    program = _prescribe(practice.clinicians[clinician].user, episode, slug, start, at)
    if manner.name != "waiting":
        _taper(practice.clinicians[clinician].user, program, start, today, practice)
    if manner.name in STEPS_UP and age > STEP_UP_DAY:
        _step_up(practice.clinicians[clinician].user, program, start + timedelta(days=STEP_UP_DAY), dice, practice)
    write_logs(program=program, manner=manner, first=start, last=today, now=now, dice=dice)
    visits.write_visits(
        practice=practice, book=book, program=program, clinician=clinician, age=age, manner=manner, now=now, dice=dice
    )
    if manner.name == "steady" and number % 9 == 4 and age > 20:
        pause_program(
            by=practice.clinicians[clinician].user, program=program, reason="Away for two weeks", now=now - timedelta(days=3)
        )
    write_notes(program=program, number=number, now=now)
    follow_program(program=program, now=now)


def _at(day: date, practice: Practice, hour: int) -> datetime:
    return zones.lenient_instant(day, time(hour), practice.site.zone)


def _register(practice: Practice, number: int, at: datetime, dice: random.Random) -> Client:
    given = people.GIVEN[number % len(people.GIVEN)]
    family = people.FAMILY[(number * 7 + number // len(people.GIVEN)) % len(people.FAMILY)]
    conditions = ("osteoporosis",) if number % 17 == 5 else ("heart_disease",) if number % 19 == 7 else ()
    by = practice.clinicians[0].user if conditions else practice.desk.user   # answers about health are a clinician's to note
    return register_client(
        by=by, site=practice.site, given_name=given, family_name=family, now=at,
        birth_date=date(dice.randint(1946, 2004), dice.randint(1, 12), dice.randint(1, 28)),
        email=f"client{number + 1:03d}@tidewater.example", phone=f"07700 900{number + 100:03d}",
        language="es" if number % 13 == 8 else "en", conditions=conditions, consent_email=number % 8 != 6,
    )


def _episode(
    practice: Practice, client: Client, clinician: int, slug: str, start: date, at: datetime, dice: random.Random
) -> Episode:
    region, side, complaint, goal = dice.choice(people.COMPLAINTS[slug])
    return open_episode(
        by=practice.clinicians[clinician].user, client=client, lead=practice.clinicians[clinician], region=region, side=side,
        complaint=complaint, goals=goal, opened=start, now=at, visits_allowed=dice.choice([None, 8, 12]),
    )


def _screen(by: User, client: Client, at: datetime) -> None:
    """Asked at the first visit. Who has a heart disease exercises already, so light to moderate exercise needs no doctor."""
    heart = "heart_disease" in open_conditions(client, at.date())
    record_screening(
        by=by, client=client, active=heart or client.pk % 3 == 0, intensity="light_moderate",
        diseases=["cardiovascular"] if heart else [], signs=[], red_flags=[], now=at,
    )


def _prescribe(by: User, episode: Episode, slug: str, start: date, at: datetime) -> Program:
    template = Template.objects.get(slug=slug)
    return prescribe_program(
        by=by, episode=episode, plan=plan_from_json(template.plan, start), title=template.name, starts=start, now=at,
        override_reason="Talked through at the first visit; safe within the limits agreed there.",
    )


def _taper(by: User, program: Program, start: date, today: date, practice: Practice) -> None:
    """Where the kick-off waits for a decision, the clinician took it two days after its end."""
    revision = revision_on(program, start)
    if revision is None:
        return
    plan = plan_of(revision)
    kick_off = plan.phases[0]
    day = start + timedelta(days=(kick_off.days or 7) + 2)
    if kick_off.advance != "by_decision" or day > today:
        return
    revise_program(
        by=by, program=program, plan=Plan(day, plan.phases[1:], plan.items), effective_from=day,
        reason="Ready for fewer sessions", based_on=revision.number, now=_at(day, practice, 9),
    )


def _step_up(by: User, program: Program, day: date, dice: random.Random, practice: Practice) -> None:
    """One level harder for about half of the exercises that have one, with that level's usual dose."""
    revision = revision_on(program, day)
    if revision is None:
        return
    plan = plan_of(revision)
    levels = levels_of(item.exercise for item in plan.items)
    items = []
    for item in plan.items:
        harder = next((level for level in levels[item.exercise] if level.number == item.level + 1), None)
        take = harder is not None and dice.random() < 0.55
        items.append(replace(item, level=harder.number, dose=dose_from_json(harder.dose)) if harder and take else item)
    if tuple(items) != plan.items:
        revise_program(
            by=by, program=program, plan=replace(plan, items=tuple(items)), effective_from=day, reason="One step harder",
            based_on=revision.number, now=_at(day, practice, 9),
        )


def _alert(practice: Practice, now: datetime) -> None:
    """One client answered a red-flag question this morning; it is still open."""
    newest = list(Client.objects.filter(site=practice.site, user__isnull=False).order_by("-pk")[:3])
    if not newest:
        return
    client = newest[-1]
    program = Program.objects.get(client=client)
    answer_id = program.public_id   # any fixed identifier does
    if client.user is None:
        raise ValueError("a demo client signs in, so has a user")
    raise_alert(by=client.user, client=client, answer_id=answer_id, flag="calf_swelling", now=now - timedelta(hours=2))
