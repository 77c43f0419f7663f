"""Public holidays of a country or a part of it, and hours without closed days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import holidays

from clinic.booking.rules.grid import Span


def public_holidays(country: str, part: str, year: int) -> list[tuple[date, str]]:
    """(day, name) in order. `country` is ISO 3166-1 alpha-2, `part` a subdivision code of ISO 3166-2 or empty.

    ValueError when the library (vacanza/holidays, from published law) does not know the place.
    """
    try:
        found = holidays.country_holidays(country, subdiv=part or None, years=year)
    except (NotImplementedError, KeyError) as error:
        raise ValueError(f"{country} {part}: no public holidays are known for it") from error
    return sorted((day, str(name)) for day, name in found.items() if day.year == year)


def parts_of(country: str) -> list[str]:
    """The subdivisions that have holidays of their own; none for an unknown country."""
    return sorted(holidays.list_supported_countries().get(country, []))


def without(spans: Iterable[Span], closed: Sequence[Span]) -> list[Span]:
    """The spans with every closed one cut out of them."""
    left = list(spans)
    for low, high in closed:
        left = [
            piece
            for start, end in left
            for piece in ((start, min(end, low)), (max(start, high), end))
            if piece[0] < piece[1]
        ]
    return left


def covers(spans: Iterable[Span], wanted: Span) -> bool:
    """Whether spans, alone or one after another, leave no moment of the wanted one out."""
    at, end = wanted
    for low, high in sorted(spans):
        if low > at:
            break
        at = max(at, high)
    return at >= end
