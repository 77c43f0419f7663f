"""Closed vocabularies of reminders."""

from django.db.models import TextChoices


class MessageState(TextChoices):
    PENDING = "pending", "Waiting"
    CLAIMED = "claimed", "Being sent"
    SENT = "sent", "Sent"
    SKIPPED = "skipped", "Not sent, with a reason"
    FAILED = "failed", "Failed"
    UNKNOWN = "unknown", "Handed over, outcome unknown"


DELIVER = "deliver"   # the heartbeat of delivery


def down(channel: str) -> str:
    """The name of the row that says since when a channel cannot be used."""
    return f"{channel}-down"


class HoldReason(TextChoices):
    """Why nothing leaves the outbox."""

    RESTORED = "restored", "Brought in from a copy"
    BY_HAND = "by_hand", "Held by the practice"


class Outcome(TextChoices):
    """What a gateway reports of a message it took."""

    DELIVERED = "delivered", "Arrived"
    FAILED = "failed", "Did not arrive"
    NO_SUCH = "no_such", "There is no such address"
