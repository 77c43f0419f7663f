"""Closed vocabularies of prescribing."""

from django.db.models import TextChoices


class ProgramStatus(TextChoices):
    """FHIR R4 request status."""

    DRAFT = "draft", "Draft"
    ACTIVE = "active", "Active"
    ON_HOLD = "on-hold", "Paused"
    REVOKED = "revoked", "Stopped"
    COMPLETED = "completed", "Completed"


class PhaseKind(TextChoices):
    KICK_OFF = "kick_off", "Kick-off"
    TAPER = "taper", "Taper"
    MAINTENANCE = "maintenance", "Maintenance"


class Weekday(TextChoices):
    """RFC 5545 codes, in the order of a week."""

    MO = "MO", "Monday"
    TU = "TU", "Tuesday"
    WE = "WE", "Wednesday"
    TH = "TH", "Thursday"
    FR = "FR", "Friday"
    SA = "SA", "Saturday"
    SU = "SU", "Sunday"


class TimeOfDay(TextChoices):
    MORNING = "morning", "Morning"
    MIDDAY = "midday", "Midday"
    EVENING = "evening", "Evening"


class Advance(TextChoices):
    BY_DATE = "by_date", "by date"
    BY_DECISION = "by_decision", "when the clinician decides"
