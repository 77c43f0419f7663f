"""Closed vocabularies of booking."""

from django.db import models
from django.db.models import TextChoices


class AppointmentStatus(TextChoices):
    """FHIR R4 Appointment.status, all ten codes."""

    PROPOSED = "proposed", "Proposed"
    PENDING = "pending", "Waiting for an answer"
    BOOKED = "booked", "Booked"
    ARRIVED = "arrived", "Arrived"
    CHECKED_IN = "checked-in", "Checked in"
    FULFILLED = "fulfilled", "Finished"
    CANCELLED = "cancelled", "Cancelled"
    NOSHOW = "noshow", "No-show"
    WAITLIST = "waitlist", "Waitlist"
    ENTERED_IN_ERROR = "entered-in-error", "Entered in error"


# an appointment in one of these holds its clinician, its room and its client
HOLDING = (
    AppointmentStatus.PENDING,
    AppointmentStatus.BOOKED,
    AppointmentStatus.ARRIVED,
    AppointmentStatus.CHECKED_IN,
    AppointmentStatus.FULFILLED,
)


class Resource(TextChoices):
    CLINICIAN = "clinician", "Clinician"
    ROOM = "room", "Room"
    CLIENT = "client", "Client"


class CancelReason(TextChoices):
    """Who or what a visit was cancelled for."""

    CLIENT = "client", "The client asked"
    CLINICIAN = "clinician", "The clinician is away"
    CLINIC = "clinic", "The clinic is closed"
    MISTAKE = "mistake", "It was booked by mistake"
    OFFER = "offer", "An offer that was not taken"
    OTHER = "other", "Another reason"


class ChangeKind(TextChoices):
    """What can be taken back for a minute."""

    MARKED = "marked", "Marked"
    CANCELLED = "cancelled", "Cancelled"
    MOVED = "moved", "Moved"


class SeriesScope(TextChoices):
    """Which visits of a series a change is for."""

    THIS = "this", "This one only"
    LATER = "later", "This and later ones"
    ALL = "all", "All that are still to come"


class MoveState(TextChoices):
    """What became of the new time proposed for a displaced visit."""

    PROPOSED = "proposed", "Proposed"
    NO_PLACE = "no_place", "No place found"
    ASKED = "asked", "Client asked"
    DECLINED = "declined", "Client said no"
    CONFIRMED = "confirmed", "Moved"
    LEFT = "left", "Left to the desk"


# still to be settled
UNSETTLED = (MoveState.PROPOSED, MoveState.NO_PLACE, MoveState.ASKED, MoveState.DECLINED)


class FeedKind(TextChoices):
    """Whose time a calendar at a secret address shows."""

    CLIENT = "client", "A client's own visits"
    CLINICIAN = "clinician", "A clinician's own visits"
    ROOM = "room", "A room"


class Priority(models.IntegerChoices):
    """How soon somebody on the waitlist needs a visit."""

    URGENT = 1, "As soon as it can be"
    SOON = 2, "Soon"
    WHENEVER = 3, "When it suits"


class WaitState(TextChoices):
    WAITING = "waiting", "Waiting"
    BOOKED = "booked", "Booked"
    WITHDRAWN = "withdrawn", "Withdrawn"


class OfferState(TextChoices):
    """Where the offer of an opening stands. One of a queue is open at a time: its hour is held."""

    QUEUED = "queued", "Next in turn"
    OPEN = "open", "Held, waiting for an answer"
    ACCEPTED = "accepted", "Said yes"
    DECLINED = "declined", "Said no"
    EXPIRED = "expired", "No answer in time"
    IMPOSSIBLE = "impossible", "Could not be held any more"
    WITHDRAWN = "withdrawn", "Withdrawn"
