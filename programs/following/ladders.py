"""The levels of a plan's exercises, for rules that move an item up or down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import overload

from programs.following.rules.change import Rung
from programs.library.models import Level
from programs.library.rules.dose import dose_from_json
from programs.prescribing.rules.plan import Plan


def ladders_for(plan: Plan) -> dict[str, Sequence[Rung]]:
    """The levels of the plan's exercises with the library's dose, easiest first; read once somebody looks at one of them."""
    slugs = {item.exercise for item in plan.items}
    read = cache(lambda: _ladders(slugs))
    return {slug: _Ladder(slug, read) for slug in slugs}


class _Ladder(Sequence[Rung]):
    def __init__(self, slug: str, read: Callable[[], dict[str, list[Rung]]]) -> None:
        self._slug, self._read = slug, read

    @overload
    def __getitem__(self, place: int) -> Rung: ...

    @overload
    def __getitem__(self, place: slice) -> Sequence[Rung]: ...

    def __getitem__(self, place: int | slice) -> Rung | Sequence[Rung]:
        return self._read()[self._slug][place]

    def __len__(self) -> int:
        return len(self._read()[self._slug])


def _ladders(slugs: set[str]) -> dict[str, list[Rung]]:
    ladders: dict[str, list[Rung]] = {slug: [] for slug in slugs}
    levels = Level.objects.filter(exercise__slug__in=slugs).order_by("number")
    for slug, number, dose in levels.values_list("exercise__slug", "number", "dose"):
        ladders[slug].append(Rung(number, dose_from_json(dose)))
    return ladders
