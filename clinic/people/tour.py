"""The first round: a few stops that show a new member of staff what is where. It can be left at any stop and taken again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from clinic.people.vocab import Role


@dataclass(frozen=True)
class Stop:
    """One page of the round: its address, what it is and what one does there."""

    url: str
    title: str
    words: str


ROUNDS: dict[str, tuple[Stop, ...]] = {
    Role.FRONT_DESK: (
        Stop(
            "/booking/", "The day",
            "Each clinician has a column. Open a visit to say that somebody is here, to move it or to cancel it. "
            "A wrong click can be taken back for a minute.",
        ),
        Stop(
            "/booking/new/", "Find or book",
            "Type a name, or say it in one line: ada reassess next tue am. You see what was understood before anything is "
            "booked.",
        ),
        Stop(
            "/reassessments/", "Who must come back",
            "Each line is a client to be seen again, with the dates in between. Book from here; the best times come first, "
            "each with its reasons.",
        ),
        Stop(
            "/booking/waitlist/", "Who waits for an earlier time",
            "When a visit is cancelled, its hour is offered to one client after another. The first yes has it.",
        ),
        Stop(
            "/messages/", "What went out",
            "Every message and what became of it. Those that failed stay here until you have dealt with them.",
        ),
    ),
    Role.CLINICIAN: (
        Stop(
            "/caseload/", "Your caseload",
            "Whoever needs a person first is at the top, with the reasons beside the name. The band shows what was asked and "
            "what was done, four weeks back and two ahead.",
        ),
        Stop(
            "/suggestions/", "Suggestions",
            "They are arithmetic on what your clients logged, each with its evidence. Accept, change or decline: no program "
            "changes before you do.",
        ),
        Stop(
            "/clients/", "From a client to a program",
            "Open a client, ask the screening questions, then write the program from a template. The client gets it on the "
            "phone and, if you print it, on paper.",
        ),
        Stop(
            "/reassessments/", "Reassessments",
            "What comes due and what is overdue. Record the measures at the visit; the next date is proposed from them.",
        ),
        Stop(
            "/alerts/", "Alerts",
            "A red-flag answer on the phone lands here at once. It stays open until you close it with a note.",
        ),
    ),
    Role.LEAD: (
        Stop(
            "/caseload/", "The whole caseload",
            "All clients in the order of who needs a person first. Choose a clinician at the top right.",
        ),
        Stop(
            "/practice/adherence/", "Charts",
            "Each chart says in its title what it shows, and its table stands below it. Both can be downloaded.",
        ),
        Stop(
            "/practice/hours/", "Hours and load",
            "Whether the reassessments of the coming twelve weeks fit into the hours that are open, clinician by clinician.",
        ),
        Stop(
            "/rules/", "The rules behind the suggestions",
            "Every threshold with its source. Try a change on the weeks behind you before you publish it.",
        ),
        Stop(
            "/records/openings/", "Records opened",
            "Who opened a record outside their own caseload, for what reason and until when.",
        ),
    ),
}
LEFT = 0   # the stop of someone who has left the round or finished it


def tour_for(user: Any, path: str) -> dict[str, Any] | None:
    """What the panel shows on the page at `path`: the stop, its number, the next one; None for who has left it."""
    stops = ROUNDS.get(getattr(user, "role", ""), ())
    number = getattr(user, "tour_stop", LEFT)
    if not 1 <= number <= len(stops):
        return None
    stop = stops[number - 1]
    return {
        "stop": stop, "number": number, "of": len(stops), "here": path == stop.url,
        "next": stops[number] if number < len(stops) else None, "next_number": number + 1,
    }
