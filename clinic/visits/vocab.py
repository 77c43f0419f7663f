"""Closed vocabularies of visits."""

from django.db.models import TextChoices


class ReassessmentReason(TextChoices):
    KICK_OFF_END = "kick_off_end", "End of the kick-off"
    INTERVAL = "interval", "Regular interval"
    VISIT_COUNT = "visit_count", "Number of visits"
    REFERRAL_LIMIT = "referral_limit", "Referral limit"
    FLAG = "flag", "Something needs a look"


class ReassessmentStatus(TextChoices):
    OPEN = "open", "Open"
    DONE = "done", "Done"
    WITHDRAWN = "withdrawn", "Withdrawn"


class Scoring(TextChoices):
    """How items become a value."""

    SINGLE = "single", "One number"
    SUM = "sum", "Sum of the items"
    MEAN = "mean", "Mean of the items"
    PERCENT_OF_ANSWERED = "percent_of_answered", "Percent of the most that the answered items allow"
    SCALED_MEAN = "scaled_mean", "Mean of the items, moved and stretched to 0-100"


class Direction(TextChoices):
    HIGHER_IS_BETTER = "higher", "Higher is better"
    LOWER_IS_BETTER = "lower", "Lower is better"
