"""Load the thresholds from fixtures/rule_sets/default.json as a version of the rule set."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

from django.db import transaction

from clinic.people import audit
from clinic.people.queries import system_actor
from clinic.people.refusal import Refusal
from programs.following.models import RuleSet
from programs.following.rules import ruleset

DEFAULT = Path(__file__).resolve().parents[3] / "fixtures" / "rule_sets" / "default.json"


@transaction.atomic
def load_rule_set(*, now: datetime, path: Path = DEFAULT) -> RuleSet:
    """The stored version, written when it is new. Refusal `invalid` (400) says which threshold cannot be used."""
    data = json.loads(path.read_text(encoding="utf-8"))
    try:
        ruleset.read(data["version"], data)
    except ValueError as error:
        raise Refusal("invalid", f"The rule set cannot be used: {error}.", status=400) from error
    by = system_actor()
    row, created = RuleSet.objects.get_or_create(
        version=data["version"],
        defaults={
            "thresholds": {"sources": data["sources"], "thresholds": data["thresholds"]},
            "author": by, "reason": data["reason"], "at": now,
        },
    )
    if created:
        audit.record(by=by, verb="load_rule_set", kind="rule_set", public_id=row.version, at=now, client=None)
    return row
