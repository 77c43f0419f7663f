"""Closed vocabularies of the portal."""

from enum import StrEnum


class Stand(StrEnum):
    """Where a client stands today with a program."""

    NONE = "none"                  # no program was given yet
    ENDED = "ended"                # the last one is over
    NOT_STARTED = "not_started"
    PAUSED = "paused"
    REST = "rest"                  # a day without a session
    ASKED = "asked"


class HowMuch(StrEnum):
    """How much of an exercise was done."""

    FULL = "full"
    MINIMUM = "minimum"
    PARTLY = "partly"
    NOT = "not"


class StepKind(StrEnum):
    """What the timer counts: work, a rest between sets, or turning to the other side."""

    WORK = "work"
    REST = "rest"
    CHANGE = "change"


class DeviceKind(StrEnum):
    """What a browser says it runs on, coarsely."""

    ANDROID = "android"
    APPLE = "apple"
    COMPUTER = "computer"
    OTHER = "other"


class Scope(StrEnum):
    """What a token may do. RFC 6749, 3.3: words without spaces; more than one may be carried."""

    PLAN = "plan"                   # read today, the days ahead and the weeks
    LOG = "log"                     # hand over sessions, mornings and red-flag answers
    VISITS = "visits"               # read visits and the times they can move to
    CHANGE_VISITS = "visits:change"   # confirm, move, cancel
    MEASURES = "measures"
    REMINDERS = "reminders"         # read and choose them
    NOTES = "notes"                 # read and write notes
