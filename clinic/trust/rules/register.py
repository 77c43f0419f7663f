"""The register of what is kept about people: one class a field, read from data and checked for gaps.

Classes: `who` (identity), `contact`, `words` (free text by or about a person), `care` (dated and coded facts of treatment),
`link` (keys), `running` (how the system works), `secret` (proofs of identity, never exported), `practice` (about no client).
Erasing a person blanks `who`, `contact`, `words` and `secret`; what is left is counts and dates without a person.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

CLASSES = ("who", "contact", "words", "care", "link", "running", "secret", "practice")
BLANKED = frozenset({"who", "contact", "words", "secret"})


@dataclass(frozen=True, slots=True)
class Entry:
    """One model: `path` leads from it to the client (query lookups; "" is the client itself, None: not about a client)."""

    label: str
    path: str | None
    classes: Mapping[str, str]          # field -> class
    erased: Mapping[str, str]           # field -> text written instead of nothing; {pk} stands for the row's key
    delete: bool = False                # erasing removes the rows as a whole

    @property
    def blanked(self) -> tuple[str, ...]:
        """Fields that erasing empties."""
        return tuple(name for name, kind in self.classes.items() if kind in BLANKED)

    @property
    def exported(self) -> tuple[str, ...]:
        """Fields that an export holds."""
        return tuple(name for name, kind in self.classes.items() if kind != "secret")


def read(data: Mapping[str, Any]) -> dict[str, Entry]:
    """The register from its JSON. ValueError names the model and what is wrong with its entry."""
    entries = {}
    for label, given in data.items():
        unknown = set(given) - {*CLASSES, "of", "erase", "erased"}
        if unknown or "of" not in given or given.get("erase", "delete") != "delete":
            raise ValueError(f"{label}: {sorted(unknown) or 'of or erase'} cannot be read")
        named = [(name, kind) for kind in CLASSES for name in given.get(kind, ())]
        classes = dict(named)
        if len(classes) != len(named):
            raise ValueError(f"{label}: a field stands in two classes")
        if (given["of"] is None) != (set(classes.values()) <= {"practice"}):
            raise ValueError(f"{label}: only a model that is not about a client has the class practice, and it has no other")
        erased = given.get("erased", {})
        if wrong := [name for name in erased if classes.get(name) not in BLANKED]:
            raise ValueError(f"{label}: {wrong} is not blanked, so nothing is written instead")
        entries[label] = Entry(label, given["of"], classes, erased, "erase" in given)
    return entries


def gaps(entries: Mapping[str, Entry], models: Mapping[str, Iterable[str]]) -> list[str]:
    """What the register misses or has too much, a line each, given every model's fields; empty when they agree."""
    found = [f"{label}: not in the register" for label in models if label not in entries]
    found += [f"{label}: no such model" for label in entries if label not in models]
    for label, entry in entries.items():
        fields = set(models.get(label, entry.classes))
        found += [f"{label}.{name}: no class" for name in sorted(fields - set(entry.classes))]
        found += [f"{label}.{name}: no such field" for name in sorted(set(entry.classes) - fields)]
    return found
