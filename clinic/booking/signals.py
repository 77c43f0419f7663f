"""What booking tells the apps above it."""

from django.dispatch import Signal

# sent inside the transaction, with appointment=, now=, by=, after any change of its time or status
appointment_changed = Signal()
