"""A local time as typed becomes one instant, or is asked about."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

from clinic.booking.serializers import EARLIEST, LATEST
from clinic.booking.wording import choices_in_words
from clinic.people.refusal import Refusal
from clinic.people.rules import zones


def start_of(day: date, at: time, zone: str) -> datetime:
    """The UTC instant of a wall time. Refusal `nonexistent_time` or `ambiguous_time` (400) with choices=."""
    try:
        return zones.instant(day, at, zone)
    except zones.LocalTimeProblem as problem:
        sentence = {
            "nonexistent_time": f"The clocks go forward that day: there is no {at:%H:%M}. Choose a time before or after.",
            "ambiguous_time": f"The clocks go back that day: {at:%H:%M} comes twice. Say which one.",
        }[problem.code]
        raise Refusal(
            problem.code, sentence, status=400, fields={"start": sentence},
            choices=choices_in_words(problem.choices, zone),
        ) from problem


def instant_from(text: str) -> datetime:
    """The instant in an ISO 8601 text with an offset. Refusal `invalid` (400) for anything else."""
    try:
        value = datetime.fromisoformat(text)
        if value.tzinfo is not None:
            return value.astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    sentence = "Give the start as a date and time with an offset, such as 2026-03-02T09:00:00+00:00."
    raise Refusal("invalid", sentence, status=400, fields={"start": sentence})


def day_from(text: str, otherwise: date) -> date:
    """The day in an ISO text, or `otherwise` when it is empty or not a day that the book can hold."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return otherwise
    return day if EARLIEST <= day <= LATEST else otherwise
