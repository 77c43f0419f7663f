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


class Leeway(TextChoices):
    """How far a client may choose another level than the prescribed one for a day."""

    NONE = "none", "Only this level"
    EASIER = "easier", "One level easier"
    EITHER = "either", "One level easier or harder"


class Intensity(TextChoices):
    """As in the pre-participation recommendations (Riebe D et al. 2015, Med Sci Sports Exerc 47(11):2473-2479)."""

    LIGHT_MODERATE = "light_moderate", "Light to moderate: talking stays easy"
    VIGOROUS = "vigorous", "Vigorous: a few words at a time"


class Disease(TextChoices):
    """Known diseases that the pre-participation recommendations ask about (Riebe 2015)."""

    CARDIOVASCULAR = "cardiovascular", "Heart, circulation or stroke"
    METABOLIC = "metabolic", "Diabetes, type 1 or 2"
    RENAL = "renal", "Kidney disease"


class Sign(TextChoices):
    """What suggests such a disease, at rest or in effort. Our wording; the list is from memory of Riebe 2015."""

    CHEST = "chest", "Pain or pressure in the chest, neck, jaw or arms"
    BREATH = "breath", "Short of breath at rest or with little effort"
    FAINT = "faint", "Dizzy spells or fainting"
    LYING = "lying", "Short of breath lying down, or waking up from it"
    ANKLES = "ankles", "Swollen ankles"
    HEARTBEAT = "heartbeat", "A racing or uneven heartbeat"
    CLAUDICATION = "claudication", "Cramp in the legs when walking that goes with rest"
    MURMUR = "murmur", "A heart murmur that a doctor knows of"
    FATIGUE = "fatigue", "Unusually tired or breathless in everyday tasks"


class ScreeningFlag(TextChoices):
    """Answers a clinician looks into before anything is prescribed. Each alone says little; it asks, it does not diagnose.

    Our wording. Which questions: Finucane LM et al. 2020, J Orthop Sports Phys Ther 50(7):350-372 (spine), Wells PS et al.
    1997, Lancet 350:1795-1798 (calf); the others are usual screening questions (common practice, no source).
    """

    SADDLE_NUMBNESS = "saddle_numbness", "New numbness between the legs, or no control of bladder or bowel"
    BOTH_LEGS_WEAK = "both_legs_weak", "New weakness in both legs"
    CALF_SWELLING = "calf_swelling", "A calf that is newly swollen, warm or sore"
    SPEECH_SIGHT = "speech_sight", "Sudden trouble with speech, sight, swallowing or the face"
    RECENT_TRAUMA = "recent_trauma", "A fall, a blow or an accident just before it began"
    NIGHT_PAIN = "night_pain", "Pain at night that no position eases"
    WEIGHT_LOSS = "weight_loss", "Weight lost without trying"
    FEVER = "fever", "Fever, chills or feeling ill with it"
    CANCER = "cancer", "Cancer, now or in the past"
    STEROIDS = "steroids", "Steroid medicine for long, or weak defences against infection"
    SPREADING = "spreading", "Numbness or weakness that spreads or grows"


# answers that cannot wait for the next working day (common practice, no source)
HELP_TODAY = frozenset({
    ScreeningFlag.SADDLE_NUMBNESS, ScreeningFlag.BOTH_LEGS_WEAK, ScreeningFlag.CALF_SWELLING, ScreeningFlag.SPEECH_SIGHT,
})
