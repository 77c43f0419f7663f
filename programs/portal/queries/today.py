"""What is asked of the client today."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from clinic.people.models import Client, User
from programs.following.models import Alert, DayRecord
from programs.following.notes import unread_for_client
from programs.following.queries import days_of
from programs.library.models import Exercise, Level
from programs.library.rules.dose import dose_to_json
from programs.library.rules.translation import ExerciseWords, LevelWords
from programs.portal.queries.own import chosen_program, day_of, open_alert, where_they_stand
from programs.portal.rules.days import minutes, next_asked
from programs.portal.rules.steps import Step, steps_of
from programs.portal.vocab import Stand
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import levels_beside, plan_of, revision_on
from programs.prescribing.rules.plan import DayPlan, ItemPlan, Plan, day_plan


@dataclass(frozen=True, slots=True)
class Beside:
    """A level that the client may take today in place of the prescribed one; `way` is easier or harder."""

    level: Level
    words: LevelWords
    way: str
    dose: dict[str, Any]          # the prescribed one


@dataclass(frozen=True, slots=True)
class Card:
    """One exercise as it is shown: its plan, its level with the drawing, its words, and the timer's steps."""

    item: ItemPlan
    exercise: Exercise
    level: Level
    words: ExerciseWords          # in the client's language
    level_words: LevelWords
    steps: list[Step]
    least: int                    # seconds of work that count as done, all sides
    whole: int                    # seconds of work when all of it is done, all sides
    beside: list[Beside]          # levels that the clinician left to the client, the easier first

    @property
    def title(self) -> str:
        """What the drawing is called."""
        return f"{self.words.name}: {self.level_words.name}"


@dataclass(frozen=True, slots=True)
class Today:
    """What is asked of a client today, for one of their programs."""

    client: Client
    day: date
    stand: Stand
    program: Program | None
    others: list[Program]         # further open programs
    alert: Alert | None           # a red-flag answer that nobody has closed yet
    revision: Revision | None
    plan: Plan | None
    asked: DayPlan | None
    cards: list[Card]
    done: int                     # sessions logged today
    pain: int | None              # the worst said today, 0-10
    next_day: date | None         # the next day with a session, when today has none
    morning: date | None          # the day of a session whose morning after was not answered
    unread: int                   # notes from the clinic that wait to be read

    @property
    def session_minutes(self) -> tuple[int, int]:
        """Minutes of one session, least and all."""
        plan = self.plan
        return (minutes(plan.session_seconds("minimum")), minutes(plan.session_seconds("full"))) if plan else (0, 0)

    @property
    def day_minutes(self) -> tuple[int, int]:
        """Minutes asked of this day, least and all."""
        return (minutes(self.asked.minimum_seconds), minutes(self.asked.full_seconds)) if self.asked else (0, 0)


def today_of(user: User, now: datetime, public_id: UUID | str | None = None) -> Today:
    """Today in the client's zone, for the program asked for or their first."""
    client, program, others = chosen_program(user, public_id)
    day = day_of(client, now)
    alert, unread = open_alert(client), unread_for_client(client)
    if program is None:
        return Today(client, day, Stand.NONE, None, others, alert, None, None, None, [], 0, None, None, None, unread)
    revision = revision_on(program, max(day, program.starts))
    plan = plan_of(revision) if revision else None
    asked = day_plan(plan, day) if plan and day >= plan.anchor else None
    stand = where_they_stand(program, asked, day)
    records = {record.day: record for record in days_of([program.pk], day - timedelta(days=1), day)[program.pk]}
    return Today(
        client, day, stand, program, others, alert, revision, plan, asked,
        cards_of(revision, client.language) if revision and stand in {Stand.ASKED, Stand.REST, Stand.NOT_STARTED} else [],
        records[day].sessions_done if day in records else 0,
        records[day].pain if day in records else None,
        next_asked(plan, day) if plan and stand in {Stand.REST, Stand.NOT_STARTED} else None,
        _morning_due(records, day), unread,
    )


def cards_of(revision: Revision, language: str) -> list[Card]:
    """The exercises of a revision as they are shown in a language (BCP 47).

    No query when the revision comes from prescribing's queries; one when an item leaves the client a choice of levels.
    """
    held, plan = {item.key: item for item in revision.items.all()}, plan_of(revision)
    beside = levels_beside(plan.items)
    return [
        _card(item, held[item.key].exercise, held[item.key].level, beside.get(item.key, []), language)
        for item in plan.items
    ]


def _card(item: ItemPlan, exercise: Exercise, level: Level, beside: list[Level], language: str) -> Card:
    return Card(
        item, exercise, level, exercise.in_language(language), level.in_language(language), steps_of(item, "full"),
        item.work("minimum"), item.work("full"),
        [_beside(item, other, language) for other in beside],
    )


def _beside(item: ItemPlan, other: Level, language: str) -> Beside:
    return Beside(
        other, other.in_language(language), "easier" if other.number < item.level else "harder", dose_to_json(item.dose)
    )


def _morning_due(records: dict[date, DayRecord], today: date) -> date | None:
    yesterday = records.get(today - timedelta(days=1))
    if yesterday is None or not yesterday.sessions_done or yesterday.pain_next_morning is not None:
        return None
    return yesterday.day
