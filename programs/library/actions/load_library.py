"""Load the exercise library from fixtures/library/."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import ManyToOneRel, Model

from clinic.people.refusal import Refusal
from clinic.people.vocab import ConditionCode, Region
from programs.library.actions.reading_languages import Entries, Said, read_languages
from programs.library.models import Exercise, Level, Precaution
from programs.library.rules.entry import Words, check_entry, drawn
from programs.library.rules.translation import LANGUAGES
from programs.library.vocab import DoseSide, Equipment, Kind, Severity

FOLDER = Path(settings.ROOT) / "fixtures" / "library"
WORDS = Words(
    frozenset(Kind.values), frozenset(DoseSide.values), frozenset(Equipment.values), frozenset(ConditionCode.values),
    frozenset(Severity.values),
)
HEAD = ("name", "kind", "side", "equipment", "setup", "setup_seconds", "feel", "not_feel", "source")


def load_library(folder: Path | None = None) -> dict[str, int]:
    """Bring the library in line with the files and say how many rows were added, changed, kept and retired.

    Loading twice changes nothing. An exercise or level that has left the files stays when a program uses it.
    A fault in any file refuses everything, naming file, exercise and part; so does a word that another language lacks.
    """
    folder = folder or FOLDER
    poses = _poses(folder / "poses")
    faults: list[str] = []
    entries: dict[str, tuple[str, dict[str, Any]]] = {}
    for path in sorted(folder.glob("*.json")):
        _read_region(path, poses, entries, faults)
    _refuse(faults)
    said, faults = read_languages(folder, entries, _json)
    _refuse(faults)
    with transaction.atomic():
        return dict(_store(entries, poses, said))


def _refuse(faults: list[str]) -> None:
    if faults:
        raise Refusal(
            "bad_library", f"The exercise library was not loaded: {faults[0]}", status=400,
            fields={str(number): fault for number, fault in enumerate(faults, start=1)},
        )


def _json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except json.JSONDecodeError as error:
        name = path.name if path.parent.name not in LANGUAGES else f"{path.parent.name}/{path.name}"
        sentence = f"The exercise library was not loaded: {name}, line {error.lineno}: {error.msg}."
        raise Refusal("bad_library", sentence, status=400) from None


def _poses(folder: Path) -> dict[str, Any]:
    poses: dict[str, Any] = {}
    for path in sorted(folder.glob("*.json")):
        poses |= _json(path)
    return poses


def _read_region(
    path: Path, poses: Mapping[str, Any], entries: dict[str, tuple[str, dict[str, Any]]], faults: list[str]
) -> None:
    data = _json(path)
    region = data.get("region")
    if region not in Region.values:
        faults.append(f"{path.name}: region: must be one of {', '.join(Region.values)}, not {region!r}")
    for number, entry in enumerate(data.get("exercises", []), start=1):
        slug = entry.get("slug") if isinstance(entry, dict) else None
        where = f"{path.name}: {slug or f'exercise {number}'}"
        found = check_entry(entry, poses, WORDS)
        if slug in entries:
            found = [*found, "slug: another exercise has it already"]
        faults += [f"{where}: {fault}" for fault in found]
        if not found:
            entries[entry["slug"]] = (region, entry)


def _store(entries: Entries, poses: Mapping[str, Any], said: Said) -> Counter[str]:
    """Write what differs, in bulk: a library is some five hundred rows."""
    counts: Counter[str] = Counter(added=0, changed=0, kept=0, retired=0)
    kept = {row.slug: row for row in Exercise.objects.all()}
    heads = {
        slug: {"region": region, "said": said.exercise(slug), **{name: entry[name] for name in HEAD}}
        for slug, (region, entry) in entries.items()
    }
    _sync(Exercise, {slug: kept.get(slug) or Exercise(slug=slug) for slug in heads}, heads, counts)
    stored = {row.slug: row for row in Exercise.objects.filter(slug__in=entries)}

    levels = {
        (slug, number): {
            "name": data["name"], "harder_because": data.get("harder_because", ""), "cues": data["cues"],
            "dose": data["dose"], "drawing": drawn(data["drawing"], poses), "said": said.level(slug, number),
        }
        for slug, (_, entry) in entries.items()
        for number, data in enumerate(entry["levels"], start=1)
    }
    old_levels = {(row.exercise.slug, row.number): row for row in Level.objects.select_related("exercise")}
    _sync(
        Level,
        {key: old_levels.get(key) or Level(exercise=stored[key[0]], number=key[1]) for key in levels}, levels, counts,
    )
    precautions = {
        (slug, data["condition"]): {
            "severity": data["severity"], "reason": data["reason"], "said": said.reason(data["reason"]),
        }
        for slug, (_, entry) in entries.items()
        for data in entry["precautions"]
    }
    old = {(row.exercise.slug, row.condition): row for row in Precaution.objects.select_related("exercise")}
    _sync(
        Precaution,
        {key: old.get(key) or Precaution(exercise=stored[key[0]], condition=key[1]) for key in precautions},
        precautions, counts,
    )
    gone: list[Exercise | Level | Precaution] = [
        row for key, row in old.items() if key not in precautions and key[0] in entries
    ]
    gone += [row for key, row in old_levels.items() if key not in levels]
    gone += [row for slug, row in kept.items() if slug not in entries]
    for row in gone:
        counts[_retire(row)] += 1
    return counts


def _sync(model: type[Model], rows: Mapping[Any, Any], values: Mapping[Any, Mapping[str, Any]], counts: Counter[str]) -> None:
    """Create the new rows and update those that differ from `values`."""
    new, differ = [], []
    for key, row in rows.items():
        if row.pk is None:
            new.append(row)
        elif any(getattr(row, name) != value for name, value in values[key].items()):
            differ.append(row)
        else:
            counts["kept"] += 1
        for name, value in values[key].items():
            setattr(row, name, value)
    model._base_manager.bulk_create(new)
    if differ:
        model._base_manager.bulk_update(differ, list(next(iter(values.values()))))
    counts["added"] += len(new)
    counts["changed"] += len(differ)


def _retire(row: Exercise | Level | Precaution) -> str:
    """Delete what no program uses; keep the rest."""
    if not isinstance(row, Precaution) and _used(row):
        return "kept"
    row.delete()
    return "retired"


def _used(row: Exercise | Level) -> bool:
    """Whether a program points at the row, found through the protected foreign keys of the apps above."""
    if isinstance(row, Exercise) and any(_used(level) for level in row.levels.all()):
        return True
    return any(
        relation.related_model._base_manager.filter(**{relation.field.name: row}).exists()
        for relation in row._meta.get_fields(include_hidden=True)
        if isinstance(relation, ManyToOneRel) and relation.related_model not in {Level, Precaution}
    )
