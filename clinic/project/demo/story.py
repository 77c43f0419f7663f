"""How an invented client follows a program: what one day's session looks like, from a seeded generator."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from programs.library.rules.dose import Reps
from programs.prescribing.rules.plan import DayPlan, ItemPlan


@dataclass(frozen=True)
class Manner:
    """A way of following. Chances are 0..1, pain is 0..10, `fades_after` in days (0: never)."""

    name: str
    share: int
    does_it: float
    share_done: tuple[float, float]
    pain: tuple[int, int]
    effort: tuple[int, int]
    easy: float = 0.1
    hard: float = 0.1
    fades_after: int = 0
    newest: tuple[int, int] | None = None    # started so many days ago, instead of anywhere in the months
    pain_rises: bool = False


MANNERS = (
    Manner("steady", 19, 0.94, (0.85, 1.1), (0, 3), (3, 6)),
    Manner("keen", 8, 0.98, (1.0, 1.4), (0, 1), (2, 4), easy=0.85, hard=0.0),
    Manner("partly", 11, 0.62, (0.5, 1.0), (1, 4), (4, 7), hard=0.2),
    Manner("fading", 6, 0.85, (0.6, 1.0), (1, 4), (4, 7), fades_after=24),
    Manner("sore", 5, 0.85, (0.6, 1.0), (4, 7), (5, 8), hard=0.6, pain_rises=True),
    Manner("fresh", 6, 0.9, (0.8, 1.1), (1, 4), (4, 6), newest=(1, 6)),
    Manner("waiting", 5, 0.95, (0.9, 1.2), (0, 2), (3, 5), newest=(8, 11)),
)


@dataclass(frozen=True)
class Session:
    """One invented session: seconds by item key and side, and the answers after it."""

    day: date
    minute: int                       # of the day, local
    done: dict[str, tuple[int, int]]
    pain_before: int
    pain_during: int
    effort: int
    rating: str
    item_ratings: dict[str, str]
    last_sets: dict[str, int]         # repetitions of the last set, where repetitions are counted
    morning: int | None


def manners(count: int) -> Iterator[Manner]:
    """`count` manners in the shares of MANNERS, the same every time."""
    whole = sum(manner.share for manner in MANNERS)
    left = [manner.share * count / whole for manner in MANNERS]
    for _ in range(count):
        best = max(range(len(MANNERS)), key=lambda index: left[index])
        left[best] -= 1
        yield MANNERS[best]


def sessions_of(manner: Manner, plan: DayPlan, items: tuple[ItemPlan, ...], age: int, dice: random.Random) -> list[Session]:
    """What was done on one day, `age` days into the program; nothing on a day that was forgotten."""
    if plan.sessions is None or (manner.fades_after and age > manner.fades_after):
        return []
    asked = dice.randint(plan.sessions.minimum, plan.sessions.full)
    return [_session(manner, plan.day, items, age, number, dice) for number in range(asked) if dice.random() < manner.does_it]


def _session(
    manner: Manner, day: date, items: tuple[ItemPlan, ...], age: int, number: int, dice: random.Random
) -> Session:
    share = dice.uniform(*manner.share_done)
    rise = min(3, age // 10) if manner.pain_rises else 0
    eases = min(2, age // 21) if not manner.pain_rises else 0
    pain = max(0, min(10, dice.randint(*manner.pain) + rise - eases))
    roll = dice.random()
    rating = "too_easy" if roll < manner.easy else "too_hard" if roll < manner.easy + manner.hard else "about_right"
    done, item_ratings, last_sets = {}, {}, {}
    for item in items:
        part = 0.0 if dice.random() < 0.04 else share
        seconds = round(item.work("minimum") / item.sides * part)
        weaker = round(seconds * dice.uniform(0.85, 1.0))
        done[str(item.key)] = (seconds, weaker if item.side == "each" else 0)
        if rating != "about_right" and dice.random() < 0.5:
            item_ratings[str(item.key)] = rating
        if isinstance(item.dose, Reps) and seconds:
            last_sets[str(item.key)] = item.dose.reps.full + (dice.randint(2, 4) if rating == "too_easy" else 0)
    morning = max(0, pain - dice.randint(0, 2)) if dice.random() < 0.5 else None
    return Session(
        day, 7 * 60 + number * 600 + dice.randint(0, 150), done, max(0, pain - dice.randint(0, 2)), pain,
        dice.randint(*manner.effort), rating, item_ratings, last_sets, morning,
    )


def days(first: date, last: date) -> Iterator[date]:
    """Every day from `first` to `last`, both included."""
    for offset in range((last - first).days + 1):
        yield first + timedelta(days=offset)
