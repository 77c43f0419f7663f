"""What other apps add to a client's or a program's page: each registers a section, so that nobody knows who is above."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Section:
    """A part of the page of a client, or of what else `place` names. `build(user, thing)` returns the context of `template`,
    or None to leave it out."""

    order: int
    template: str
    build: Callable[[Any, Any], dict[str, Any] | None]
    place: str = "client"


_sections: list[Section] = []


def register(section: Section) -> None:
    """Add a section; the same one twice is kept once."""
    if section not in _sections:
        _sections.append(section)
        _sections.sort(key=lambda known: known.order)


def all_sections(place: str = "client") -> list[Section]:
    """Sections of a place in the order they are shown."""
    return [section for section in _sections if section.place == place]


def built(place: str, user: Any, thing: Any) -> list[tuple[str, dict[str, Any]]]:
    """(template, context) of each section that has something to show."""
    found = ((section.template, section.build(user, thing)) for section in all_sections(place))
    return [(template, context) for template, context in found if context is not None]
