"""A choice among a few names, as the bits of a whole number."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

Name = TypeVar("Name", bound=str)


def to_bits(chosen: Iterable[str], known: Sequence[str]) -> int:
    """The number whose bit n is set when the n-th of `known` is chosen. ValueError for a name that is not known."""
    return sum(1 << known.index(name) for name in set(chosen))


def from_bits(number: int, known: Sequence[Name]) -> tuple[Name, ...]:
    """The names that a number stands for, in the order of `known`."""
    return tuple(name for place, name in enumerate(known) if number >> place & 1)
