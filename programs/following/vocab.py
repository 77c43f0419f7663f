"""Closed vocabularies of following."""

from django.db.models import TextChoices


class LogSource(TextChoices):
    PORTAL = "portal", "Client"
    CLINICIAN = "clinician", "Clinician on the client's behalf"
    IMPORT = "import", "Import"


class Rating(TextChoices):
    TOO_EASY = "too_easy", "Too easy"
    ABOUT_RIGHT = "about_right", "About right"
    TOO_HARD = "too_hard", "Too hard"


class SkipReason(TextChoices):
    NO_TIME = "no_time", "No time"
    PAIN = "pain", "It hurt"
    FORGOT = "forgot", "Forgot"
    UNWELL = "unwell", "Unwell"
    NO_EQUIPMENT = "no_equipment", "No equipment"


class DayState(TextChoices):
    PRESCRIBED = "prescribed", "Prescribed"
    REST = "rest", "Nothing prescribed"
    PAUSED = "paused", "Paused"


class Band(TextChoices):
    ON_TRACK = "on_track", "On track"
    PARTLY = "partly", "Partly"
    LOW = "low", "Low"
    SILENT = "silent", "Silent"
    NEW = "new", "Too early to say"
    PAUSED = "paused", "Paused"


class SuggestionKind(TextChoices):
    PROGRESS = "progress", "Progress"
    MAINTAIN = "maintain", "Maintain"
    REGRESS = "regress", "Regress"
    TAPER = "taper", "Taper"
    EXTEND_KICK_OFF = "extend_kick_off", "Extend the kick-off"
    CONTACT = "contact", "Contact"
    REASSESS = "reassess", "Reassess"
    PAUSE_AND_REFER = "pause_and_refer", "Pause and refer"


class SuggestionState(TextChoices):
    OPEN = "open", "Open"
    ACCEPTED = "accepted", "Accepted"
    ALTERED = "altered", "Altered"
    DECLINED = "declined", "Declined"
    OUTDATED = "outdated", "Outdated"


class RedFlag(TextChoices):
    """Answers that stop a session at once (usual screening questions, common practice, no source)."""

    CHEST_PAIN = "chest_pain", "Chest pain, fainting or sudden breathlessness"
    FACE_ARM_SPEECH = "face_arm_speech", "Sudden weakness, or a change in speech or face"
    SADDLE_NUMBNESS = "saddle_numbness", "New numbness between the legs, or loss of bladder or bowel control"
    BOTH_LEGS_WEAK = "both_legs_weak", "New weakness in both legs"
    CALF_SWELLING = "calf_swelling", "A calf that is newly swollen, warm or tender"
