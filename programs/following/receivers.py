"""What following does when prescribing changes a program."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.dispatch import receiver

from programs.following.actions.follow_program import follow_program
from programs.prescribing.models import Program
from programs.prescribing.signals import program_changed


@receiver(program_changed, dispatch_uid="following.program_changed")
def on_program_changed(*, program: Program, now: datetime, **_: Any) -> None:
    """Work it out anew in the same transaction."""
    follow_program(program=program, now=now)
