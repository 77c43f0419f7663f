"""Read the house's program templates from fixtures/templates/."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from programs.prescribing.models import Template
from programs.prescribing.queries import ANY_DAY, levels_named, unknown_levels, with_library
from programs.prescribing.rules.plan import problems
from programs.prescribing.rules.plan_json import PlanError, plan_from_json, plan_to_json

PARTS = {"name": 80, "summary": 300}   # text parts and their most characters


@transaction.atomic
def load_templates(folder: Path | None = None) -> dict[str, int]:
    """Create or bring up to date one template per file, by file name; counts of new, changed and unchanged.

    The exercise library must have been loaded. ValueError names the file and the path in it; then nothing is saved.
    """
    counts = {"new": 0, "changed": 0, "unchanged": 0}
    for file in sorted((folder or settings.ROOT / "fixtures" / "templates").glob("*.json")):
        values = _read(file)
        template = Template.objects.filter(slug=file.stem).first()
        if template is None:
            Template.objects.create(slug=file.stem, **values)
            counts["new"] += 1
        elif {name: getattr(template, name) for name in values} != values:
            for name, value in values.items():
                setattr(template, name, value)
            template.save(update_fields=list(values))
            counts["changed"] += 1
        else:
            counts["unchanged"] += 1
    return counts


def _read(file: Path) -> dict[str, Any]:
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except ValueError as error:
        raise ValueError(f"{file}: is not JSON ({error})") from error
    for name, most in PARTS.items():
        if not isinstance(data.get(name), str) or not 1 <= len(data[name]) <= most:
            raise ValueError(f"{file}: {name}: must be 1 to {most} characters")
    if set(data) != {*PARTS, "plan"}:
        raise ValueError(f"{file}: holds name, summary and plan, nothing else")
    try:
        plan = plan_from_json(data["plan"], ANY_DAY)
    except PlanError as error:
        raise ValueError(f"{file}: {error}") from error
    levels = levels_named(plan)
    wrong = {**unknown_levels(plan.items, levels), **problems(plan.phases, plan.items)}
    if wrong:
        raise ValueError(f"{file}: " + "; ".join(f"{path}: {sentence}" for path, sentence in wrong.items()))
    return {"name": data["name"], "summary": data["summary"], "plan": plan_to_json(with_library(plan, levels))}
