"""What a phone, a clinician or an import says about one session, and what is wrong with it."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

SCALE = (0, 10)                   # pain and effort
MOST_SECONDS = 36_000             # of one item in one session: ten hours
MOST_REPS = 1_000
MOST_ITEMS = 60
MOST_EDIT = 10_000
MOST_LEVEL = 20
MOST_WORDS = 2_000                # characters
RATINGS = frozenset({"", "too_easy", "about_right", "too_hard"})
SKIP_REASONS = frozenset({"", "no_time", "pain", "forgot", "unwell", "no_equipment"})
AHEAD = timedelta(days=1)         # a phone across the date line is one day ahead at most


@dataclass(frozen=True, slots=True)
class ItemEntry:
    """What was done of one item, in seconds. For an item of both sides together `done_left` holds the whole."""

    item_key: UUID
    done_left: int = 0
    done_right: int = 0
    reps_last_set: int | None = None
    rating: str = ""
    skipped: str = ""
    level: int | None = None      # that was done; None: the prescribed one


@dataclass(frozen=True, slots=True)
class SessionEntry:
    """One session as reported. `edit` 0 is the first report; a higher one under the same `log_id` replaces it."""

    log_id: UUID
    edit: int
    revision: UUID                # public id of the revision that was shown
    day: date                     # in the client's zone
    started: datetime | None = None
    pain_before: int | None = None
    pain_during: int | None = None
    effort: int | None = None
    rating: str = ""
    words: str = ""
    items: tuple[ItemEntry, ...] = ()


def problems(entry: SessionEntry) -> dict[str, str]:
    """What in the entry cannot be used, by field path; empty when all can."""
    wrong: dict[str, str] = {}
    if not 0 <= entry.edit <= MOST_EDIT:
        wrong["edit"] = f"The number of the edit is 0 to {MOST_EDIT}, not {entry.edit}."
    for name, value in (("pain_before", entry.pain_before), ("pain_during", entry.pain_during), ("effort", entry.effort)):
        if value is not None and not SCALE[0] <= value <= SCALE[1]:
            wrong[name] = f"The scale goes from 0 to 10, not {value}."
    if entry.rating not in RATINGS:
        wrong["rating"] = f"{entry.rating!r} is not one of the three answers."
    if len(entry.words) > MOST_WORDS:
        wrong["words"] = f"Words can have {MOST_WORDS} characters at most, not {len(entry.words)}."
    elif any(unicodedata.category(character) == "Cc" and character not in "\n\r\t" for character in entry.words):
        wrong["words"] = "Words cannot hold control characters."
    if entry.started is not None and entry.started.tzinfo is None:
        wrong["started"] = "The time a session started needs its offset from UTC."
    if len(entry.items) > MOST_ITEMS:
        wrong["items"] = f"A session has {MOST_ITEMS} exercises at most, not {len(entry.items)}."
    elif len({item.item_key for item in entry.items}) != len(entry.items):
        wrong["items"] = "The same exercise is answered twice."
    for index, item in enumerate(entry.items[:MOST_ITEMS]):
        wrong.update(_item_problems(f"items.{index}", item))
    return wrong


def _item_problems(where: str, item: ItemEntry) -> dict[str, str]:
    wrong: dict[str, str] = {}
    for name, seconds in (("done_left", item.done_left), ("done_right", item.done_right)):
        if not 0 <= seconds <= MOST_SECONDS:
            wrong[f"{where}.{name}"] = f"Seconds done are 0 to {MOST_SECONDS} (ten hours), not {seconds}."
    if item.reps_last_set is not None and not 0 <= item.reps_last_set <= MOST_REPS:
        wrong[f"{where}.reps_last_set"] = f"Repetitions are 0 to {MOST_REPS}, not {item.reps_last_set}."
    if item.level is not None and not 1 <= item.level <= MOST_LEVEL:
        wrong[f"{where}.level"] = f"Levels are 1 to {MOST_LEVEL}, not {item.level}."
    if item.rating not in RATINGS:
        wrong[f"{where}.rating"] = f"{item.rating!r} is not one of the three answers."
    if item.skipped not in SKIP_REASONS:
        wrong[f"{where}.skipped"] = f"{item.skipped!r} is not a reason we know."
    return wrong


def day_problem(day: date, *, starts: date, ended: date | None, today: date) -> str | None:
    """A code when a session cannot have been on that day: `clock_ahead`, `before_start`, `after_end`; else None."""
    if day > today + AHEAD:
        return "clock_ahead"
    if day < starts:
        return "before_start"
    if ended is not None and day > ended:
        return "after_end"
    return None
