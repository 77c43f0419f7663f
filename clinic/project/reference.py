"""The house's own reference data: exercise library, templates, measures, the first rule set."""

from __future__ import annotations

from datetime import datetime

from clinic.visits.actions.load_measures import load_measures
from programs.following.actions.load_rule_set import load_rule_set
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates


def load_reference(now: datetime) -> None:
    """Load or refresh all of it; what has not changed is not touched."""
    load_library()
    load_templates()
    load_measures()
    load_rule_set(now=now)
