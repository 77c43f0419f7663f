"""What prescribing tells the apps above it. Sent inside the writing transaction with `program` and `now`."""

from django.dispatch import Signal

program_changed = Signal()
