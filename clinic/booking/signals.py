"""What booking tells the apps above it."""

from django.dispatch import Signal

# sent inside the transaction, with appointment=, now=, by=, after any change of its time or status; with new=True when it was
# not in the book before, so that nothing can refer to it yet
appointment_changed = Signal()
