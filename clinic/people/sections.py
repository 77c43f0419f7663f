"""What other apps add to a client's page: each registers a section, so that people knows nobody above it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Section:
    """A part of the client's page. `build(user, client)` returns the context of `template`, or None to leave it out."""

    order: int
    template: str
    build: Callable[[Any, Any], dict[str, Any] | None]


_sections: list[Section] = []


def register(section: Section) -> None:
    """Add a section; the same one twice is kept once."""
    if section not in _sections:
        _sections.append(section)
        _sections.sort(key=lambda known: known.order)


def all_sections() -> list[Section]:
    """Sections in the order they are shown."""
    return list(_sections)
