"""The form for measures, built from their structure: numbers in, and what was typed back out with its errors."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from clinic.people.vocab import BodySide
from clinic.visits.actions.record_result import wrong_fields
from clinic.visits.actions.record_visit import Measured
from clinic.visits.models import Measure
from clinic.visits.queries import Series
from clinic.visits.wording import amount, number

SIDES = {BodySide.LEFT.value: "Left", BodySide.RIGHT.value: "Right", BodySide.NONE.value: ""}
MOST_TYPED = 20


@dataclass(frozen=True)
class Box:
    """One number to type."""

    name: str
    label: str
    value: str
    error: str


@dataclass(frozen=True)
class Group:
    """The boxes of one side."""

    label: str
    boxes: list[Box]
    last: str
    error: str


@dataclass(frozen=True)
class Entry:
    """One measure on the form."""

    measure: Measure
    hint: str
    groups: list[Group]
    open: bool


def sides_of(measure: Measure) -> tuple[str, ...]:
    """The sides a measure is taken on."""
    return (BodySide.LEFT.value, BodySide.RIGHT.value) if measure.by_side else (BodySide.NONE.value,)


def read(typed: Mapping[str, str], measures: Iterable[Measure]) -> tuple[list[Measured], dict[str, str]]:
    """(what was measured, errors by box): a side with nothing typed is left out; a decimal comma is read as a point."""
    found, errors = [], {}
    for measure in measures:
        for side in sides_of(measure):
            values: list[float | None] = []
            for item in range(1, measure.items + 1):
                name = box_name(measure, side, item)
                text = typed.get(name, "").strip()
                try:
                    values.append(float(text[:MOST_TYPED].replace(",", ".")) if text else None)
                except ValueError:
                    values.append(None)
                    errors[name] = f"{measure.name}: “{text[:MOST_TYPED]}” is not a number."
            if any(value is not None for value in values):
                found.append(Measured(measure, values, side))
    return found, errors


def wrong(measured: Iterable[Measured], errors: Mapping[str, str]) -> dict[str, str]:
    """What else is wrong with what was read, on sides that `errors` says nothing about."""
    found = {}
    for each in measured:
        side = f"{each.measure.code}.{each.side}"
        if not any(name.startswith(f"{side}.") for name in errors):
            for name, sentence in wrong_fields(each.measure, each.values, each.side).items():
                found[f"results.{side}.{name}"] = sentence
    return found


def box_name(measure: Measure, side: str, item: int) -> str:
    """The form's name of one number."""
    return f"{measure.code}.{side}.{item}"


def entries(
    measures: Iterable[Measure], typed: Mapping[str, str], errors: Mapping[str, str], series: Iterable[Series]
) -> list[Entry]:
    """The form, measures already used in this episode first. `errors` by box, or by `<code>.<side>` for a whole side."""
    last = {(line.measure.pk, line.side): amount(line.measure, line.points[-1].value) for line in series}
    used = {key for key, _ in last}
    rows = [
        Entry(
            measure, _hint(measure), [_group(measure, side, typed, errors, last) for side in sides_of(measure)],
            measure.pk in used or any(name.startswith(f"{measure.code}.") and typed[name] for name in typed),
        )
        for measure in measures
    ]
    return sorted(rows, key=lambda entry: (entry.measure.pk not in used, entry.measure.name))


def _group(
    measure: Measure, side: str, typed: Mapping[str, str], errors: Mapping[str, str], last: Mapping[tuple[int, str], str]
) -> Group:
    boxes = []
    for item in range(1, measure.items + 1):
        name = box_name(measure, side, item)
        label = f"Item {item}" if measure.items > 1 else (SIDES[side] or "Value")
        boxes.append(Box(name, label, typed.get(name, ""), errors.get(name, "")))
    return Group(SIDES[side], boxes, last.get((measure.pk, side), ""), errors.get(f"{measure.code}.{side}", ""))


def _hint(measure: Measure) -> str:
    each = f"{number(measure.item_minimum)} to {number(measure.item_maximum)}"
    if measure.items == 1:
        return f"{each} {measure.unit}".strip()
    if measure.minimum_answered == measure.items:
        return f"{measure.items} items, {each} each; every item is needed"
    return f"{measure.items} items, {each} each; at least {measure.minimum_answered} are needed"


def errors_by_box(fields: Mapping[str, str]) -> dict[str, str]:
    """A refusal's fields `results.<code>.<side>.values.<n>` as errors of the form's boxes and sides."""
    found = {}
    for name, sentence in fields.items():
        parts = name.split(".")
        if parts[0] == "results":
            item = parts[4:5]
            found[".".join([*parts[1:3], *item])] = sentence
        else:
            found[name] = sentence
    return found
