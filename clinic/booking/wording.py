"""Words for codes, and shapes for statuses: the edge of booking."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time
from typing import Any

from django.utils import dateformat

from clinic.booking.rules.asking import Asked, Problem, Rhythm
from clinic.booking.vocab import AppointmentStatus, ChangeKind, MoveState
from clinic.people.rules import zones

# shape of parts/state.html for each status
SHAPES = {
    AppointmentStatus.PROPOSED: "silent",
    AppointmentStatus.PENDING: "silent",
    AppointmentStatus.WAITLIST: "silent",
    AppointmentStatus.BOOKED: "wait",
    AppointmentStatus.ARRIVED: "part",
    AppointmentStatus.CHECKED_IN: "good",
    AppointmentStatus.FULFILLED: "done",
    AppointmentStatus.CANCELLED: "silent",
    AppointmentStatus.NOSHOW: "low",
    AppointmentStatus.ENTERED_IN_ERROR: "silent",
}
REASONS = {
    "in_window": "inside the due window",
    "before_window": "before the due window",
    "after_window": "after the due window",
    "same_clinician": "their own clinician",
    "usual_time": "their usual time of day",
    "no_gap": "leaves no gap too short to use",
    "leaves_gap": "leaves a gap too short to use",
}
MOVE_SHAPES = {
    MoveState.PROPOSED: "wait",
    MoveState.NO_PLACE: "alert",
    MoveState.ASKED: "part",
    MoveState.DECLINED: "low",
    MoveState.CONFIRMED: "done",
    MoveState.LEFT: "silent",
}
WHY_NOT = {
    "no_room": "No room of the site has what this kind of visit needs.",
    "nobody_in": "Nobody who could see them works on the days searched.",
    "all_taken": "No opening on the days searched suits: all are taken, or the client has another visit then.",
    "in_a_group": "It is in a group: choose another one that meets, or call the group off.",
    "needed_by_others": "The openings there are go to other visits of these days, which would be worse off without them.",
}
MOVE_REASONS = {
    "same_day": "the same day",
    "later": "{n} day{s} later",
    "earlier": "{n} day{s} earlier",
    "in_window": "inside the due window",
    "outside_window": "{n} day{s} outside the due window",
    "same_clinician": "the same clinician",
    "other_clinician": "another clinician",
    "same_time": "the same time of day",
    "other_time": "{n} minutes from the old time of day",
    "leaves_gap": "leaves {n} gap{s} too short to use",
    "odd_start": "not on a quarter of an hour",
    "chosen_by_desk": "chosen by the desk",
}
# what a button says that marks a visit so
STEPS = {
    "booked": "Back to booked",
    "arrived": "Arrived",
    "checked-in": "Check in",
    "fulfilled": "Finish",
    "noshow": "No-show",
    "entered-in-error": "Entered in error",
}


def reasons_in_words(codes: tuple[str, ...]) -> str:
    """One phrase of the reasons why an opening stands where it stands."""
    text = ", ".join(REASONS[code] for code in codes)
    return text[:1].upper() + text[1:]


def move_reasons_in_words(parts: list[list[Any]]) -> str:
    """Why a displaced visit goes where it goes."""
    text = ", ".join(MOVE_REASONS[code].format(n=number, s="" if number == 1 else "s") for code, number in parts)
    return text[:1].upper() + text[1:]


def choices_in_words(choices: list[datetime], zone: str) -> list[dict[str, str]]:
    """Instants to choose from, each with its local time and offset."""
    place = zones.zone(zone)
    return [
        {"start": choice.astimezone(place).isoformat(), "words": f"{choice.astimezone(place):%H:%M %Z}"}
        for choice in choices
    ]


def change_in_words(change: Any, zone: str) -> str:
    """What was done to a visit, and what it would be again."""
    visit = change.appointment
    if change.kind == ChangeKind.MOVED:
        was = datetime.fromisoformat(change.before["starts"]).astimezone(zones.zone(zone))
        return f"{visit.client.name} was moved from {was:%A}, {was:%H:%M}."
    was_status = AppointmentStatus(change.before["status"]).label.lower()
    return f"{visit.client.name} is {visit.get_status_display().lower()}, and was {was_status}."


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def asked_in_words(asked: Asked, kinds: Mapping[str, str], people: Mapping[str, str]) -> list[tuple[str, str]]:
    """(what, words) for each thing that was understood of plain words."""
    facts = []
    if asked.kind:
        facts.append(("Kind of visit", kinds[asked.kind]))
    if asked.first or asked.last or (asked.weekdays and not asked.rhythm):
        facts.append(("When", days_in_words(asked)))
    if asked.rhythm:
        facts.append(("How often", rhythm_in_words(asked)))
    if asked.hours:
        facts.append(("Time", hours_in_words(*asked.hours)))
    if asked.clinician:
        facts.append(("With", people[asked.clinician]))
    return facts


def rhythm_in_words(asked: Asked) -> str:
    """'2 times a week for 4 weeks', 'on Tuesday and Thursday for 4 weeks'."""
    rhythm = asked.rhythm or Rhythm()
    on = " and ".join(WEEKDAYS[weekday] for weekday in sorted(asked.weekdays))
    text = f"on {on}" if on else "once a week" if rhythm.per_week < 2 else f"{rhythm.per_week} times a week"
    text += f", every {rhythm.every} weeks" if rhythm.every > 1 else ""
    weeks = "1 week" if rhythm.weeks == 1 else f"{rhythm.weeks} weeks"
    return f"{text} for {weeks}" if rhythm.weeks else f"{text} for 4 weeks, as nothing else was said"


def days_in_words(asked: Asked) -> str:
    """'Tuesday 10 March', 'Monday 9 March to Sunday 15 March, on Tuesday'."""
    first, last = (dateformat.format(day, "l j F") if day else "" for day in (asked.first, asked.last))
    if first and first == last:
        text = first
    elif first and last:
        text = f"{first} to {last}"
    else:
        text = f"from {first}" if first else f"until {last}" if last else "any week"
    on = " or ".join(WEEKDAYS[weekday] for weekday in sorted(asked.weekdays))
    return f"{text}, on {on}" if on else text


def hours_in_words(low: time, high: time) -> str:
    """'at 15:00', 'after 15:00', 'before 12:00', 'between 09:00 and 11:00'."""
    if high.second == 59 and high.replace(second=0, microsecond=0) == low:
        return f"at {low:%H:%M}"
    if high.second == 59:
        return f"from {low:%H:%M} on"
    return f"before {high:%H:%M}" if low == time.min else f"between {low:%H:%M} and {high:%H:%M}"


OFFER_SHAPES = {
    "queued": "silent", "open": "wait", "accepted": "good", "declined": "low", "expired": "low", "impossible": "silent",
    "withdrawn": "silent",
}
MATCHES = {
    "urgent": "needs it as soon as it can be", "soon": "wants it soon", "waiting": "is waiting",
    "in_window": "inside the due window of the reassessment", "same_clinician": "their own clinician",
    "wished_day": "a day they wished for", "wished_time": "a time they wished for",
}


def match_in_words(match: Any) -> str:
    """Why a freed hour suits somebody, with the days behind it."""
    span = "1 day" if match.days == 1 else f"{match.days} days"
    words = [f"reassessment overdue by {span}" if code == "overdue" else MATCHES[code] for code in match.reasons]
    if match.entry and match.days:
        words.append(f"on the waitlist for {span}")
    text = ", ".join(words)
    return text[:1].upper() + text[1:]


def wishes_in_words(entry: Any) -> str:
    """'Tuesday or Thursday, from 09:00, until 12:00, with Mina, by 3 April'; 'Any time' when nothing was wished."""
    words = [" or ".join(WEEKDAYS[day] for day in entry.weekdays)] if entry.weekdays else []
    words += [f"not before {entry.earliest:%H:%M}"] if entry.earliest else []
    words += [f"not after {entry.latest:%H:%M}"] if entry.latest else []
    words += [f"with {entry.clinician.name}"] if entry.clinician else []
    words += [f"by {dateformat.format(entry.until, 'j F')}"] if entry.until else []
    return ", ".join(words) or "Any time"


def planned_in_words(planned: Any, clinician: str) -> str:
    """Why a date of a series cannot be; nothing when it can."""
    at = f"{planned.at:%H:%M}"
    return {
        None: "",
        "in_the_past": "That time is already over.",
        "nonexistent_time": f"The clocks go forward: there is no {at} that day.",
        "ambiguous_time": f"The clocks go back: {at} comes twice that day. Book this one by itself.",
        "outside_hours": f"{clinician} is not working for all of that time.",
        "clinician": f"{clinician} already has a visit then.",
        "client": "The client already has a visit then.",
        "room": "No suitable room is free.",
        "group": "No group with a place left meets then.",
    }[planned.problem]


def problem_in_words(problem: Problem) -> str:
    """What could not be understood, and what to type instead."""
    return {
        "nobody_called": f"No clinician here is called “{problem.words}”.",
        "several_called": f"“{problem.words}” may be more than one. Type more of the name.",
        "said_twice": f"“{problem.words}” does not go with what stands before it.",
        "no_day": f"“{problem.words}” leaves no day that can be booked.",
    }[problem.code]
