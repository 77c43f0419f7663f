"""Rooms, hours, appointments and the claims that refuse an overlap; the waitlist and what is offered."""

from clinic.booking.models.book import (
    CELL_MINUTES,
    Absence,
    Appointment,
    Away,
    Change,
    Claim,
    ProposedMove,
    Room,
    Series,
    VisitType,
    WorkingHours,
)
from clinic.booking.models.feeds import CalendarFeed
from clinic.booking.models.groups import GroupPlace, GroupVisit
from clinic.booking.models.offers import Offer, WaitlistEntry
from clinic.booking.models.special import SpecialHours

__all__ = [
    "CELL_MINUTES", "Absence", "Appointment", "Away", "CalendarFeed", "Change", "Claim", "GroupPlace", "GroupVisit", "Offer",
    "ProposedMove", "Room", "Series", "SpecialHours", "VisitType", "WaitlistEntry", "WorkingHours",
]
