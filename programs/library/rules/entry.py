"""Whether an exercise as written in a library file can be used, and what is wrong where when not."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from programs.library.rules.dose import dose_from_json
from programs.library.rules.pose import Pose, flatten, problems
from programs.library.rules.props import KINDS
from programs.library.rules.shapes import VIEWS
from programs.library.rules.skeleton import skeleton
from programs.library.rules.translation import LEVEL_TEXTS, MOST_CUE, MOST_REASON, TEXTS

# the six of Bartsch KM et al. 2021, J Clin Med 10(22):5360: do not roll with these, ask the clinician
NEVER_ROLL_WITH = ("open_wound", "fracture", "inflammation", "dvt", "osteomyelitis", "myositis_ossificans")
DOSES = {                # what a kind may be dosed by
    "rolling": {"roll"}, "static_stretch": {"hold"}, "dynamic_stretch": {"reps"}, "strength": {"reps", "hold"},
    "balance": {"hold", "reps"}, "aerobic": {"continuous"},
}
POINTS = frozenset(skeleton(Pose({}, {}, {})))
_OPTIONAL = {"source": 300}


@dataclass(frozen=True, slots=True)
class Words:
    """The closed vocabularies an entry is held against."""

    kinds: frozenset[str]
    sides: frozenset[str]
    equipment: frozenset[str]
    conditions: frozenset[str]
    severities: frozenset[str]


def check_entry(entry: Any, poses: Mapping[str, Any], words: Words) -> list[str]:
    """What is wrong with an exercise, each as "part: sentence"; empty when it can be used."""
    if not isinstance(entry, Mapping):
        return ["exercise: must be an object"]
    return [*_head(entry, words), *_precautions(entry, words), *_levels(entry, poses)]


def _head(entry: Mapping[str, Any], words: Words) -> Iterator[str]:
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", str(entry.get("slug", ""))) or len(entry["slug"]) > 48:
        yield "slug: must be small letters, digits and hyphens, 48 at most"
    for part, most in {**TEXTS, **_OPTIONAL}.items():
        text = entry.get(part)
        if not isinstance(text, str) or (part in TEXTS and not text.strip()):
            yield f"{part}: must be a text"
        elif len(text) > most:
            yield f"{part}: may have {most} characters at most, not {len(text)}"
    if entry.get("kind") not in words.kinds:
        yield f"kind: must be one of {', '.join(sorted(words.kinds))}, not {entry.get('kind')!r}"
    if entry.get("side") not in words.sides:
        yield f"side: must be one of {', '.join(sorted(words.sides))}, not {entry.get('side')!r}"
    equipment = entry.get("equipment")
    if not isinstance(equipment, list) or not equipment:
        yield "equipment: must be a list with at least one word"
    else:
        yield from (f"equipment: {word!r} is not known" for word in equipment if word not in words.equipment)
    seconds = entry.get("setup_seconds")
    if type(seconds) is not int or not 0 <= seconds <= 600:
        yield f"setup_seconds: must be 0 to 600, not {seconds!r}"


def _precautions(entry: Mapping[str, Any], words: Words) -> Iterator[str]:
    rows = entry.get("precautions")
    if not isinstance(rows, list):
        yield "precautions: must be a list"
        return
    seen: dict[str, str] = {}
    for number, row in enumerate(rows, start=1):
        where = f"precautions[{number}]"
        if not isinstance(row, Mapping):
            yield f"{where}: must be an object"
            continue
        code = row.get("condition", "")
        if code not in words.conditions:
            yield f"{where}.condition: {code!r} is not known"
        if code in seen:
            yield f"{where}.condition: {code} is listed twice"
        if row.get("severity") not in words.severities:
            yield f"{where}.severity: must be one of {', '.join(sorted(words.severities))}, not {row.get('severity')!r}"
        reason = row.get("reason")
        if not isinstance(reason, str) or not 1 <= len(reason) <= MOST_REASON:
            yield f"{where}.reason: must be a text of 200 characters at most"
        seen[code] = row.get("severity", "")
    if entry.get("kind") == "rolling":
        for code in NEVER_ROLL_WITH:
            if seen.get(code) != "do_not":
                yield f"precautions: rolling must carry {code} as do_not"


def _levels(entry: Mapping[str, Any], poses: Mapping[str, Any]) -> Iterator[str]:
    levels = entry.get("levels")
    if not isinstance(levels, list) or not 1 <= len(levels) <= 5:
        yield "levels: must be a list of one to five"
        return
    for number, level in enumerate(levels, start=1):
        where = f"levels[{number}]"
        if not isinstance(level, Mapping):
            yield f"{where}: must be an object"
            continue
        if not isinstance(level.get("name"), str) or not 1 <= len(level["name"]) <= LEVEL_TEXTS["name"]:
            yield f"{where}.name: must be a text of 80 characters at most"
        harder = level.get("harder_because", "")
        if not isinstance(harder, str) or len(harder) > LEVEL_TEXTS["harder_because"] or (number > 1 and not harder):
            yield f"{where}.harder_because: must say what makes it harder, in 160 characters at most"
        cues = level.get("cues")
        if not isinstance(cues, list) or not 3 <= len(cues) <= 5 or not all(map(_is_cue, cues)):
            yield f"{where}.cues: must be three to five short sentences"
        yield from (f"{where}.{problem}" for problem in _dose(level.get("dose"), entry.get("kind")))
        yield from (f"{where}.drawing.{problem}" for problem in _drawing(level.get("drawing"), poses))


def _is_cue(cue: Any) -> bool:
    return isinstance(cue, str) and 0 < len(cue) <= MOST_CUE


def _dose(data: Any, kind: Any) -> Iterator[str]:
    try:
        dose = dose_from_json(data if isinstance(data, Mapping) else {})
    except ValueError as error:
        yield f"dose.{error}"
        return
    if kind in DOSES and dose.type not in DOSES[kind]:
        yield f"dose.type: {kind} is not dosed by {dose.type}"


def _drawing(data: Any, poses: Mapping[str, Any]) -> Iterator[str]:
    if not isinstance(data, Mapping) or "end" not in data:
        yield "end: is missing"
        return
    if data.get("view", "side") not in VIEWS:
        yield f"view: must be one of {', '.join(VIEWS)}, not {data['view']!r}"
    for part in ("start", "end"):
        if part in data:
            try:
                yield from (f"{part}.{problem}" for problem in problems(flatten(data[part], poses)))
            except ValueError as error:
                yield f"{part}.{error}"
    for number, prop in enumerate(data.get("props", []), start=1):
        if not isinstance(prop, Mapping) or prop.get("prop") not in KINDS:
            yield f"props[{number}].prop: must be one of {', '.join(KINDS)}"
    yield from (f"{where}: {point!r} is not a point of the body" for where, point in _points(data) if point not in POINTS)


def _points(data: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Every point of the body that a drawing names, with where."""
    for part in ("arrow", "focus"):
        if part in data:
            yield f"{part}.point", data[part].get("point")
    for number, prop in enumerate(data.get("props", []), start=1):
        for name in ("under", "touch", "behind", "beside", "in"):
            if name in prop:
                yield f"props[{number}].{name}", prop[name]
        for place in prop.get("through", []):
            if isinstance(place, str):
                yield f"props[{number}].through", place
    for part in ("start", "end"):
        if isinstance(data.get(part), Mapping):
            for point, _ in data[part].get("rest", []):
                yield f"{part}.rest", point


def drawn(drawing: Mapping[str, Any], poses: Mapping[str, Any]) -> dict[str, Any]:
    """The drawing as it is stored: poses without names of other poses."""
    return {
        key: flatten(value, poses) if key in {"start", "end"} else value for key, value in drawing.items()
    }
