"""Load the outcome measures from fixtures/measures.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction

from clinic.visits.models import Measure
from clinic.visits.queries import structure_of

FIELDS = {
    "code", "name", "scoring", "items", "item_minimum", "item_maximum", "minimum_answered", "unit", "direction", "mdc",
    "mdc_confidence", "mcid", "by_side", "side_mdc", "source",
}


@transaction.atomic
def load_measures(path: Path | None = None) -> dict[str, int]:
    """Store or update every measure by its code; loading again changes nothing. Counts of created, changed and same.

    ValueError names the measure and what is wrong with it; then nothing is stored.
    """
    source = path or settings.ROOT / "fixtures" / "measures.json"
    counts = {"created": 0, "changed": 0, "same": 0}
    for number, row in enumerate(json.loads(source.read_text(encoding="utf-8"))["measures"], start=1):
        counts[_store(f"{source.name}, measure {number} ({row.get('code', 'no code')})", row)] += 1
    return counts


def _store(where: str, row: dict[str, Any]) -> str:
    if set(row) != FIELDS:
        odd = ", ".join(sorted(set(row) ^ FIELDS))
        raise ValueError(f"{where}: these fields are missing or unknown: {odd}")
    known = Measure.objects.filter(code=row["code"]).first()
    measure = known or Measure()
    changed = known is None or any(getattr(known, name) != value for name, value in row.items())
    for name, value in row.items():
        setattr(measure, name, value)
    try:
        measure.clean_fields()
        structure_of(measure)
    except (ValidationError, ValueError) as error:
        raise ValueError(f"{where}: {error}") from error
    if not changed:
        return "same"
    measure.save()
    return "changed" if known else "created"
